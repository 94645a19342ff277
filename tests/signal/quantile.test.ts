import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { deviationOf, meanOf, medianOf, selectRank } from '../../src/signal/quantile.ts';

describe('selectRank', () => {
  test('gives what stands there after sorting, and only reorders', () => {
    const finite = fc.float({ noNaN: true, noDefaultInfinity: true });
    const few = fc.constantFrom(0, 1, 1, 2).map(Math.fround);
    fc.assert(
      fc.property(
        fc.array(fc.oneof(finite, few), { minLength: 1, maxLength: 200 }),
        fc.nat(),
        (list, pick) => {
          const rank = pick % list.length;
          // Numerically sorted as a typed array sorts: −0 before 0.
          const sorted = Float32Array.from(list).sort();
          const values = Float32Array.from([...list, -1e30]);
          const found = selectRank(values, list.length, rank);
          expect(found === sorted[rank] || (found === 0 && sorted[rank] === 0)).toBe(true);
          expect(values[list.length]).toBe(Math.fround(-1e30));
          const plain = (array: Float32Array) =>
            Array.from(array, (value) => value + 0).sort((a, b) => a - b);
          expect(plain(values.subarray(0, list.length))).toEqual(plain(sorted));
        },
      ),
      { numRuns: 300, seed: 4 },
    );
  });

  test('takes sorted, reversed and equal values in its stride', () => {
    const length = 20_000;
    const up = Float64Array.from({ length }, (_, n) => n);
    expect(selectRank(up.slice(), length, 137)).toBe(137);
    expect(selectRank(up.slice().reverse(), length, 19_999)).toBe(19_999);
    expect(selectRank(new Float64Array(length).fill(3), length, 7)).toBe(3);
  });
});

describe('medianOf, meanOf, deviationOf', () => {
  test('by hand', () => {
    expect(medianOf([5, 1, 3])).toBe(3);
    expect(medianOf([4, 1, 3, 2])).toBe(2.5);
    expect(meanOf([1, 2, 6])).toBe(3);
    // Deviations −2, −1, 3: squares 4 + 1 + 9 = 14, over 2.
    expect(deviationOf([1, 2, 6])).toBeCloseTo(Math.sqrt(7), 12);
  });

  test('of too little are not numbers, and leave their list alone', () => {
    expect([medianOf([]), meanOf([]), deviationOf([1])]).toEqual([Number.NaN, Number.NaN, Number.NaN]);
    const list = [3, 1, 2];
    medianOf(list);
    expect(list).toEqual([3, 1, 2]);
  });
});
