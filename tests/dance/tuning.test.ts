import { describe, expect, test } from 'vitest';
import { carrierSound } from '../../src/dance/carrier-envelope.ts';
import { tunedWindowOf, tuningAt, withTuning } from '../../src/dance/tuning.ts';

const RATE_HZ = 2000;
const LENGTH = 49;
const NOISE = { above: 1e-6, below: 1e-6 };

/** ln likelihood ratio that a pulse of 20 ms at one carrier is a dancer's at another. */
function heardAt(pulseHz: number, dancerHz: number, ratio = 100): number {
  const samples = Float32Array.from({ length: 400 }, (_, n) => {
    const timeS = (n - 200) / RATE_HZ;
    const envelope = Math.abs(timeS) < 0.01 ? Math.cos(Math.PI * 50 * timeS) ** 2 : 0;
    return envelope * Math.sin(2 * Math.PI * pulseHz * timeS + 0.7);
  });
  const sound = carrierSound(samples, RATE_HZ, dancerHz, 0, 400, LENGTH);
  return tuningAt(sound, 200, tunedWindowOf(LENGTH, RATE_HZ), ratio, NOISE);
}

describe('tuningAt', () => {
  test('speaks for a pulse at the carrier and against one of another dancer, on either side alike', () => {
    expect(heardAt(255, 255)).toBeGreaterThan(1);
    expect(heardAt(260, 255)).toBeGreaterThan(0.5);
    expect(heardAt(297, 255)).toBeLessThan(-1.5);
    expect(heardAt(213, 255)).toBeLessThan(-1.5);
    expect(heardAt(297, 255)).toBeCloseTo(heardAt(255, 297), 0);
  });

  test('says less the weaker the sound, and nothing of what is no louder than noise', () => {
    expect(heardAt(297, 255, 5)).toBeGreaterThan(heardAt(297, 255, 50));
    expect(heardAt(297, 255, 1.5)).toBe(0);
    expect(heardAt(255, 255, 1.5)).toBe(0);
    // Twice the noise says something.
    expect(heardAt(297, 255, 1.99)).toBe(0);
    expect(heardAt(297, 255, 2.01)).not.toBe(0);
  });

  test('takes the powers 20 Hz above and below from one pass over the samples', () => {
    // ln likelihood ratio of two normal densities about 0 (SD 0.45 with noise, and 1.8) at the skew that
    // two windows at ±20 Hz give; worked out here from the definition.
    const samples = Float32Array.from({ length: 400 }, (_, n) => Math.sin((2 * Math.PI * 270 * n) / RATE_HZ));
    const powerAt = (hz: number) => {
      let re = 0;
      let im = 0;
      for (let n = -24; n <= 24; n++) {
        const weight = 0.5 - 0.5 * Math.cos((2 * Math.PI * (n + 24.5)) / LENGTH);
        re += weight * samples[200 + n]! * Math.cos((2 * Math.PI * hz * n) / RATE_HZ);
        im += weight * samples[200 + n]! * Math.sin((2 * Math.PI * hz * n) / RATE_HZ);
      }
      return re * re + im * im;
    };
    const skew = Math.log(powerAt(275) / powerAt(235));
    const own = 0.45 ** 2 + 3 / 40;
    const wanted = 0.5 * skew ** 2 * (1 / 1.8 ** 2 - 1 / own) + 0.5 * Math.log(1.8 ** 2 / own);
    const sound = carrierSound(samples, RATE_HZ, 255, 0, 400, LENGTH);
    const found = tuningAt(sound, 200, tunedWindowOf(LENGTH, RATE_HZ), 40, NOISE);
    expect(found).toBeCloseTo(Math.max(-12, wanted), 3);
  });
});

describe('withTuning', () => {
  test('caps the sum, and trusts the power less the more the carrier speaks against it', () => {
    expect(withTuning(20, 1, 6)).toBe(6);
    expect(withTuning(2, 1, 6)).toBe(3);
    expect(withTuning(20, -1, 6)).toBe(1);
    expect(withTuning(20, -3, 6)).toBe(-3);
    expect(withTuning(-2, -3, 6)).toBe(-5);
  });
});
