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
      const windows = runningQuantiles(
        Float32Array.from(values.flatMap((value) => [value, 2 * value])),
        2,
        share,
      );
      const length = 40;
      values.forEach((_, k) => {
        windows.add(2 * k);
        if (k >= length) windows.remove(2 * (k - length));
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

test('zeros and what is no number do not count, and an empty window has the quantile 0', () => {
  const windows = runningQuantiles(Float32Array.of(0, Number.NaN, -1, 5), 1, 0.3);
  for (let k = 0; k < 3; k++) windows.add(k);
  expect(windows.quantile(0)).toBe(0);
  windows.add(3);
  expect(windows.quantile(0)).toBeCloseTo(5, 0);
  windows.remove(3);
  expect(windows.quantile(0)).toBe(0);
});

test('over exponential noise it stands within one part in a hundred of the sorted quantile', () => {
  // Quantiles of the exponential distribution: −ln(1 − q).
  const count = 20_000;
  const noise = Float32Array.from({ length: count }, (_, k) => -Math.log(1 - (k + 0.5) / count));
  const windows = runningQuantiles(noise, 1, 0.3);
  for (let k = 0; k < count; k++) windows.add(k);
  expect(windows.quantile(0) / -Math.log(1 - 0.3)).toBeCloseTo(1, 2);
});

test('values spread evenly over one class are told from one another by their rank', () => {
  // From 1 up to 1.0625 is one class; eight values in the middles of its eighths.
  const values = Float32Array.from({ length: 8 }, (_, k) => 1 + ((k + 0.5) / 8) * 0.0625);
  for (const share of [0, 0.3, 0.5, 0.99]) {
    const windows = runningQuantiles(values, 1, share);
    for (let k = 0; k < 8; k++) windows.add(k);
    expect(windows.quantile(0)).toBeCloseTo(values[Math.floor(8 * share)]!, 6);
  }
});
