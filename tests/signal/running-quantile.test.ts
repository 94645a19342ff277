import fc from 'fast-check';
import { expect, test } from 'vitest';
import { runningQuantiles } from '../../src/signal/running-quantile.ts';

test('follows the quantile of the sorted window, row by row', () => {
  const powers = fc.array(fc.float({ min: Math.fround(1e-4), max: Math.fround(1e4), noNaN: true }), {
    minLength: 60,
    maxLength: 200,
  });
  fc.assert(
    fc.property(powers, fc.constantFrom(0.1, 0.3, 0.5, 0.9), (values, share) => {
      const windows = runningQuantiles(2, share);
      const length = 40;
      values.forEach((value, k) => {
        windows.add(0, value);
        windows.add(1, 2 * value);
        if (k >= length) {
          windows.remove(0, values[k - length]!);
          windows.remove(1, 2 * values[k - length]!);
        }
        const sorted = values.slice(Math.max(0, k - length + 1), k + 1).sort((a, b) => a - b);
        const wanted = sorted[Math.floor(share * sorted.length)]!;
        // A class is a sixteenth of an octave: at most 1/16 of the value wide.
        expect(Math.abs(windows.quantile(0) / wanted - 1)).toBeLessThan(1 / 16);
        expect(windows.quantile(1)).toBeCloseTo(2 * windows.quantile(0), 5);
      });
    }),
    { seed: 22, numRuns: 60 },
  );
});

test('zeros do not count, and an empty window has the quantile 0', () => {
  const windows = runningQuantiles(1, 0.3);
  windows.add(0, 0);
  expect(windows.quantile(0)).toBe(0);
  windows.add(0, 5);
  expect(windows.quantile(0)).toBeCloseTo(5, 0);
  windows.remove(0, 5);
  expect(windows.quantile(0)).toBe(0);
});

test('over exponential noise it stands within one part in a hundred of the sorted quantile', () => {
  // Quantiles of the exponential distribution: −ln(1 − q).
  const windows = runningQuantiles(1, 0.3);
  const count = 20_000;
  for (let k = 0; k < count; k++) windows.add(0, -Math.log(1 - (k + 0.5) / count));
  expect(windows.quantile(0) / -Math.log(1 - 0.3)).toBeCloseTo(1, 2);
});
