import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { decimator, planDecimation } from '../../src/signal/decimator.ts';

const RATES_HZ = [8000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 96_000, 192_000];

function decimated(samples: Float32Array, rateHz: number, blockLengths: readonly number[] = [65_536]) {
  const stage = decimator(rateHz);
  const parts: Float32Array[] = [];
  let at = 0;
  for (let k = 0; at < samples.length; k++) {
    const length = blockLengths[k % blockLengths.length]!;
    parts.push(stage.push(samples.subarray(at, at + length)));
    at += length;
  }
  parts.push(stage.finish());
  const whole = new Float32Array(parts.reduce((sum, part) => sum + part.length, 0));
  let filled = 0;
  for (const part of parts) {
    whole.set(part, filled);
    filled += part.length;
  }
  return { samples: whole, rateHz: stage.analysisRateHz };
}

const tone = (hz: number, rateHz: number, lengthS: number) =>
  Float32Array.from({ length: Math.round(lengthS * rateHz) }, (_, n) =>
    Math.sin((2 * Math.PI * hz * n) / rateHz),
  );

describe('planDecimation', () => {
  test.each(RATES_HZ)('%d Hz comes near 2 kHz by whole factors', (rateHz) => {
    const { factors, analysisRateHz } = planDecimation(rateHz);
    expect(factors.length).toBeLessThanOrEqual(2);
    expect(factors.every((factor) => Number.isInteger(factor) && factor >= 2)).toBe(true);
    expect(factors.reduce((rate, factor) => rate / factor, rateHz)).toBeCloseTo(analysisRateHz, 9);
    expect(analysisRateHz).toBeGreaterThan(1700);
    expect(analysisRateHz).toBeLessThan(2500);
  });

  test('splits even factors from 4 on in two, the last one 2; odd ones and 2 stay whole', () => {
    const factorsOf = (rateHz: number) => planDecimation(rateHz).factors;
    expect([2000, 4000, 6000, 8000, 22_050, 12_000, 44_100].map(factorsOf)).toEqual([
      [],
      [2],
      [3],
      [2, 2],
      [11],
      [3, 2],
      [11, 2],
    ]);
  });
});

describe('decimator', () => {
  test.each(RATES_HZ)('a sine comes out the same sine at the same time, from %d Hz', (rateHz) => {
    for (const hz of [40, 265, 410, 600]) {
      const { samples, rateHz: analysisHz } = decimated(tone(hz, rateHz, 0.5), rateHz);
      expect(samples.length).toBe(Math.ceil(Math.round(0.5 * rateHz) / (rateHz / analysisHz)));
      // At the ends the recording is taken as silent. Two filters, each with its ripple of 70 dB and the same
      // at 0 Hz, where the gain is set to 1: up to 0.02 dB.
      const margin = Math.round(0.05 * analysisHz);
      for (let n = margin; n < samples.length - margin; n++) {
        const wanted = Math.sin((2 * Math.PI * hz * n) / analysisHz);
        expect(Math.abs(samples[n]! - wanted)).toBeLessThan(2.5e-3);
      }
    }
  });

  test.each(RATES_HZ)('what would fold into 0 to 600 Hz is down by 65 dB and more, from %d Hz', (rateHz) => {
    const { analysisRateHz } = planDecimation(rateHz);
    const folding: number[] = [];
    for (let k = 1; k * analysisRateHz < rateHz / 2 + 600; k++) {
      for (const besideHz of [-600, -265, 33, 410, 600]) {
        const hz = k * analysisRateHz + besideHz;
        if (hz < 0.999 * (rateHz / 2)) folding.push(hz);
      }
    }
    expect(folding.length).toBeGreaterThan(2);
    // All factors fold alike: at high rates every seventh is enough.
    const every = Math.ceil(folding.length / 25);
    for (const hz of folding.filter((_, k) => k % every === 0)) {
      const { samples, rateHz: analysisHz } = decimated(tone(hz, rateHz, 0.25), rateHz);
      const margin = Math.round(0.05 * analysisHz);
      let largest = 0;
      for (let n = margin; n < samples.length - margin; n++)
        largest = Math.max(largest, Math.abs(samples[n]!));
      expect(20 * Math.log10(largest + 1e-30), `${hz} Hz`).toBeLessThan(-65);
    }
  });

  test.each([2000, 8000, 11_025, 44_100, 48_000])(
    'the length of the blocks changes nothing, at %d Hz',
    (rateHz) => {
      const random = seededRandom(35);
      const samples = Float32Array.from({ length: 9000 }, () => random.normal());
      const whole = decimated(samples, rateHz).samples;
      fc.assert(
        fc.property(
          fc.array(fc.integer({ min: 1, max: 3000 }), { minLength: 1, maxLength: 8 }),
          (lengths) => {
            expect(decimated(samples, rateHz, lengths).samples).toEqual(whole);
          },
        ),
        { numRuns: 20, seed: 3, examples: [[[1]], [[7]], [[4096]]] },
      );
    },
  );

  test('an empty recording gives nothing', () => {
    expect(decimated(new Float32Array(0), 44_100).samples).toHaveLength(0);
  });
});
