import { describe, expect, test } from 'vitest';
import { besselI0, lowpassTaps } from '../../src/signal/lowpass.ts';

/** Gain of symmetric taps by the plain sum, in dB. */
function gainDb(taps: Float64Array, hz: number, rateHz: number): number {
  let re = 0;
  let im = 0;
  taps.forEach((tap, n) => {
    re += tap * Math.cos((2 * Math.PI * hz * n) / rateHz);
    im -= tap * Math.sin((2 * Math.PI * hz * n) / rateHz);
  });
  return 20 * Math.log10(Math.hypot(re, im));
}

describe('lowpassTaps', () => {
  test.each([
    { rateHz: 8000, passHz: 620, stopHz: 1380, attenuationDb: 70 },
    { rateHz: 44_100, passHz: 620, stopHz: 1384, attenuationDb: 70 },
    { rateHz: 4000, passHz: 620, stopHz: 1380, attenuationDb: 45 },
    { rateHz: 192_000, passHz: 620, stopHz: 3380, attenuationDb: 90 },
  ])('passes to $passHz and stops from $stopHz Hz by $attenuationDb dB at $rateHz Hz', (filter) => {
    const { rateHz, passHz, stopHz, attenuationDb } = filter;
    const taps = lowpassTaps(rateHz, passHz, stopHz, attenuationDb);
    expect(taps.length % 2).toBe(1);
    expect([...taps].reverse()).toEqual([...taps]);
    expect(gainDb(taps, 0, rateHz)).toBeCloseTo(0, 10);
    // A window design has the same ripple in both bands, here to within 1.5 dB of what was asked for (Kaiser's
    // formulas are fitted to measured filters).
    const ripple = 10 ** (-(attenuationDb - 1.5) / 20);
    // Where the pass band is narrow, the ripples of its two edges, at ± cut-off, add; and the gain is set to 1
    // at 0 Hz, where they add too.
    for (let step = 0; step <= 60; step++) {
      const passed = gainDb(taps, (passHz * step) / 60, rateHz);
      expect(Math.abs(10 ** (passed / 20) - 1)).toBeLessThan(4 * ripple);
    }
    for (let step = 0; step <= 300; step++) {
      const hz = stopHz + ((rateHz / 2 - stopHz) * step) / 300;
      expect(gainDb(taps, hz, rateHz)).toBeLessThan(-(attenuationDb - 1.5));
    }
    expect(gainDb(taps, (passHz + stopHz) / 2, rateHz)).toBeCloseTo(-6.02, 1);
  });
});

describe('besselI0', () => {
  // e^−x I0(x) as tabulated by Abramowitz & Stegun 1964, Table 9.8 (figures from memory, here to 9 places).
  test.each([
    [0, 1],
    [0.1, 0.907100926],
    [0.5, 0.645035271],
    [1, 0.465759608],
    [2, 0.308508323],
    [3, 0.243000354],
    [5, 0.183540813],
    [10, 0.127833337],
  ])('e^−x I0(x) at %d is %d', (x, wanted) => {
    expect(Math.exp(-x) * besselI0(x)).toBeCloseTo(wanted, 8);
  });

  test('agrees with its integral, (1/π) ∫ e^(x cos θ) dθ over 0 to π (DLMF 10.32.1)', () => {
    for (const x of [0.3, 1.7, 4.4, 8, 15, 20]) {
      // The midpoint rule converges faster than any power for a periodic function.
      const steps = 400;
      let sum = 0;
      for (let k = 0; k < steps; k++) sum += Math.exp(x * Math.cos((Math.PI * (k + 0.5)) / steps));
      expect(besselI0(x) / (sum / steps)).toBeCloseTo(1, 12);
    }
  });
});
