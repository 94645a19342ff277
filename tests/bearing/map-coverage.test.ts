import { expect, test } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { colonies, simulateColony } from './simulated-map.ts';

/**
 * A small check that the map's regions hold what they say; tests/bench/map-coverage.ts has thousands of dances.
 * Bounds: three standard errors of a share of this many dances about its level.
 */
test('simulated dances to known places lie in the regions of 50, 80 and 95 per cent', {
  timeout: 60_000,
}, () => {
  const random = seededRandom(31);
  const colony = colonies['dances scatter and miss, learnt from 24 dances to feeders'];
  let dances = 0;
  const inside = [0, 0, 0];
  while (dances < 160) {
    const held = simulateColony(random, colony);
    dances += held.dances;
    held.inside.forEach((count, level) => {
      inside[level] += count;
    });
  }
  [0.5, 0.8, 0.95].forEach((level, k) => {
    const margin = 3 * Math.sqrt((level * (1 - level)) / dances);
    expect(Math.abs(inside[k] / dances - level)).toBeLessThan(margin);
  });
});
