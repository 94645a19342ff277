import { counted } from './counted.ts';
import type { Store } from './store/open-store.ts';
import type { Feeder } from './study-schemas.ts';

/**
 * Feeders that dances are noted to be to and that feeders.csv does not have, such as `elm (12 dances)`: such dances
 * have no distance to calibrate on.
 */
export function unknownFeeders(store: Store, feeders: readonly Feeder[]): string[] {
  const known = new Set(feeders.map(({ feederId }) => feederId));
  const named = store
    .prepare(
      `SELECT feeder_id AS feederId, count(*) AS dances FROM dances
       WHERE feeder_set = 1 AND feeder_id IS NOT NULL GROUP BY feeder_id ORDER BY feeder_id`,
    )
    .all() as { feederId: string; dances: number }[];
  return named
    .filter(({ feederId }) => !known.has(feederId))
    .map(({ feederId, dances }) => `${feederId} (${counted(dances, 'dance')})`);
}

/** The line that names them; '' where there are none. */
export const unknownFeedersWords = (unknown: readonly string[]): string =>
  unknown.length === 0 ? '' : `Feeders that dances name and feeders.csv does not have: ${unknown.join(', ')}`;
