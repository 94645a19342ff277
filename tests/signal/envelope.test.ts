import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { envelopeFollower } from '../../src/signal/envelope.ts';

const RATE_HZ = 2000;

describe('envelopeFollower', () => {
  test('a steady tone gives its amplitude over √2', () => {
    const tone = Float32Array.from(
      { length: 4000 },
      (_, n) => 0.3 * Math.sin((2 * Math.PI * 265 * n) / RATE_HZ),
    );
    const level = envelopeFollower(RATE_HZ).push(tone).subarray(400);
    const mean = level.reduce((sum, value) => sum + value, 0) / level.length;
    expect(mean).toBeCloseTo(0.3 / Math.SQRT2, 3);
    expect(Math.max(...level) - Math.min(...level)).toBeLessThan(0.01);
  });

  test('white noise of variance v gives √v', () => {
    const random = seededRandom(33);
    const level = envelopeFollower(RATE_HZ, 0.2).push(
      Float32Array.from({ length: 200_000 }, () => 0.05 * random.normal()),
    );
    const settled = level.subarray(4000);
    expect(settled.reduce((sum, value) => sum + value, 0) / settled.length).toBeCloseTo(0.05, 3);
  });

  test('answers a step of power by 1 − (1 + t/T) e^(−t/T), without overshoot, never negative', () => {
    const rateHz = 100_000;
    const timeConstantS = 0.004;
    const level = envelopeFollower(rateHz, timeConstantS).push(new Float32Array(4000).fill(1));
    for (const n of [100, 400, 800, 1600, 3999]) {
      const t = (n + 1) / rateHz / timeConstantS;
      expect(level[n]! ** 2).toBeCloseTo(1 - (1 + t) * Math.exp(-t), 2);
    }
    expect(level.every((value, n) => value >= 0 && value <= 1 && (n === 0 || value >= level[n - 1]!))).toBe(
      true,
    );
  });

  test('how the stream is cut changes nothing', () => {
    const random = seededRandom(34);
    const samples = Float32Array.from({ length: 3000 }, () => random.normal());
    const whole = envelopeFollower(RATE_HZ).push(samples);
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 700 }), (blockLength) => {
        const follower = envelopeFollower(RATE_HZ);
        const parts: number[] = [];
        for (let at = 0; at < samples.length; at += blockLength) {
          parts.push(...follower.push(samples.subarray(at, at + blockLength)));
        }
        expect(Float32Array.from([...parts, ...follower.finish()])).toEqual(whole);
      }),
      { numRuns: 15, seed: 2 },
    );
  });

  test('refuses a time constant of zero', () => {
    expect(() => envelopeFollower(RATE_HZ, 0)).toThrow(RangeError);
  });
});
