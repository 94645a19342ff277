import { describe, expect, test } from 'vitest';
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

test('six circuits in 15 s take 2.5 s each', () => {
  expect(circuitTimeS(6)).toBe(2.5);
  expect(circuitsPer15s(2.5)).toBe(6);
});
