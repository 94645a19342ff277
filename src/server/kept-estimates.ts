import { createHash } from 'node:crypto';
import { LRUCache } from 'lru-cache';
import { danceTeller, type Estimated } from '../study/estimates.ts';
import type { TellDistances } from '../study/study-findings.ts';

/** Posteriors take some 4 kB each. */
const MOST_KEPT = 20_000;

/**
 * Estimates the dances to places that are no feeder, and keeps what was told: a dance is estimated anew only when its
 * runs, its bee or the calibration are others.
 *
 * @param most how many estimates are kept; those not asked for longest go first
 */
export function keptEstimates(most = MOST_KEPT): TellDistances {
  const kept = new LRUCache<string, Estimated>({ max: most });
  let calibration = '';
  let tell: ReturnType<typeof danceTeller> | undefined;
  return (record, dances, level) => {
    const hash = createHash('sha256').update(JSON.stringify(record)).digest('base64');
    if (hash !== calibration) {
      kept.clear();
      calibration = hash;
      tell = danceTeller(record);
    }
    return dances
      .filter(({ distanceM }) => distanceM === null)
      .map((dance) => {
        const key = JSON.stringify([level, dance]);
        const told = kept.get(key) ?? tell!(dance, level);
        kept.set(key, told);
        return told;
      });
  };
}
