import { describe, expect, test } from 'vitest';
import { spread } from '../../src/calibration/components.ts';
import { chooseRuns, summariseRuns } from '../../src/calibration/runs.ts';
import { circuitsPer15s, circuitTimeS } from '../../src/calibration/tempo.ts';

describe('chooseRuns', () => {
  test.each([
    ['inner', [1, 2, 3, 4, 5, 6, 7], [2, 3, 4, 5, 6]],
    ['first-four-inner', [1, 2, 3, 4, 5, 6, 7], [2, 3, 4, 5]],
    ['all', [1, 2, 3, 4], [1, 2, 3, 4]],
    ['inner', [1, 2, 3, 4], [2, 3]],
    ['inner', [1, 2, 3], [1, 2, 3]],
    ['first-four-inner', [1], [1]],
  ] as const)('%s of %j is %j', (choice, runs, used) => {
    expect(chooseRuns<number>(runs, choice)).toEqual(used);
  });
});

test('a run without a time keeps its place: the last one is still the last', () => {
  const summary = summariseRuns([9, 0.5, null, 0.7, 9], 'inner');
  expect(summary?.meanS).toBeCloseTo(0.6, 12);
  expect(summary?.usedRuns).toBe(2);
  expect(summary?.squaredDeviations).toBeCloseTo(0.02, 12);
  expect(summariseRuns([9, null, null, 9], 'inner')).toBeUndefined();
});

test('scatter is parted into dances and runs', () => {
  const dances = [
    { meanS: 1, usedRuns: 2, squaredDeviations: 0.02 },
    { meanS: 1, usedRuns: 2, squaredDeviations: 0.06 },
  ];
  // Pooled run variance 0.08/2; half of it is in each dance mean of two runs.
  const parts = spread(dances, 0.2);
  expect(parts.runSdS).toBeCloseTo(0.2, 12);
  expect(parts.betweenDanceSdS).toBeCloseTo(Math.sqrt(0.04 - 0.02), 12);
  expect(spread(dances, 0.1).betweenDanceSdS).toBe(0);
  expect(spread([{ meanS: 1, usedRuns: 1, squaredDeviations: 0 }], 0.1)).toEqual({
    betweenDanceSdS: 0.1,
    runSdS: null,
  });
});

test('six circuits in 15 s take 2.5 s each', () => {
  expect(circuitTimeS(6)).toBe(2.5);
  expect(circuitsPer15s(2.5)).toBe(6);
});
