import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { type Observation, stepsOf } from '../../src/signal/steps.ts';

/** Normal values of spread 1 about each mean in turn. */
const about = (means: readonly number[], count: number, seed: number): Observation[] => {
  const random = seededRandom(seed);
  return means.flatMap((mean) =>
    Array.from({ length: count }, () => ({ values: [mean + random.normal()], weight: 1 })),
  );
};

describe('stepsOf', () => {
  test('cuts where the mean steps, as often as it does', () => {
    const exact = [0, 0, 0, 5, 5, 5, 5, 0, 0, 0].map((value) => ({ values: [value], weight: 1 }));
    expect(stepsOf(exact, 3, 10)).toEqual([3, 7]);
    expect(stepsOf(exact, 4, 10)).toEqual([]);
  });

  test('the chi-square is that of two means of known spread: its square root is their z', () => {
    // z = (6 − 0) / √(1/4 + 1/4) = 8.49: chi-square 72.
    const exact = [0, 0, 0, 0, 6, 6, 6, 6].map((value) => ({ values: [value], weight: 1 }));
    expect(stepsOf(exact, 3, 71.9)).toEqual([4]);
    expect(stepsOf(exact, 3, 72.1)).toEqual([]);
  });

  test('several values and weights count together', () => {
    const two = (a: number, b: number, weight: number): Observation => ({ values: [a, b], weight });
    const row = [two(0, 0, 1), two(0, 0, 1), two(3, 4, 1), two(3, 4, 1)];
    // 25 · (2 · 2) / 4 = 25; with weights of a quarter a fourth of it.
    expect(stepsOf(row, 2, 24.9)).toEqual([2]);
    expect(stepsOf(row, 2, 25.1)).toEqual([]);
    const light = row.map(({ values }) => ({ values, weight: 0.25 }));
    expect(stepsOf(light, 2, 6.2)).toEqual([2]);
    expect(stepsOf(light, 2, 6.3)).toEqual([]);
  });

  test('noise alone is seldom cut, a step of two spreads is found within one place or two', () => {
    let cut = 0;
    let found = 0;
    for (let seed = 0; seed < 200; seed++) {
      cut += stepsOf(about([0], 20, seed), 3, 12).length;
      found += stepsOf(about([0, 2], 20, seed), 3, 12).some((at) => Math.abs(at - 20) <= 2) ? 1 : 0;
    }
    expect(cut).toBeLessThan(10);
    expect(found).toBeGreaterThan(180);
  });

  test('what a straight line explains better is no step where it may drift', () => {
    const row = (values: readonly number[]) => values.map((value) => ({ values: [value], weight: 1 }));
    const ramp = row([0, 1, 2, 3, 4, 5, 6, 7]);
    // The line explains 42, the best cut (in the middle, 4 apart) 32.
    expect(stepsOf(ramp, 3, 31.9)).toEqual([4]);
    expect(stepsOf(ramp, 3, 31.9, true)).toEqual([]);
    // Of a step in the middle of eight, 72, a line explains 16 / 21: 54.9.
    expect(stepsOf(row([0, 0, 0, 0, 6, 6, 6, 6]), 3, 71.9, true)).toEqual([4]);
    expect(stepsOf(row([0, 0, 0, 5, 5, 5, 5, 0, 0, 0]), 3, 10, true)).toEqual([3, 7]);
  });

  test('nothing, or too little, is not cut', () => {
    expect(stepsOf([], 3, 1)).toEqual([]);
    expect(stepsOf([{ values: [1], weight: 1 }], 1, 0)).toEqual([]);
  });
});
