import { describe, expect, test } from 'vitest';
import {
  carrierOfPulses,
  carrierSound,
  powerInWindow,
  powersInWindow,
  windowOf,
} from '../../src/dance/carrier-envelope.ts';
import { type MatchedView, matchedView, strongestNear } from '../../src/dance/matched-view.ts';
import { addTone, RATE_HZ } from './made-sound.ts';

describe('powersInWindow', () => {
  test.each([3, 4])('puts %d powers where they are asked for, and leaves all others', (count) => {
    const samples = new Float32Array(400);
    addTone(samples, 0, 0.2, 260, 10);
    const window = windowOf(49);
    const sound = carrierSound(samples, RATE_HZ, 260, 100, 100, 49);
    const powers = new Float64Array(20).fill(-1);
    powersInWindow(sound, 2, window, powers, 5, 5 + count);
    for (let k = 0; k < 20; k++) {
      const wanted = k >= 5 && k < 5 + count ? powerInWindow(sound, 2 * k, window) : -1;
      expect(powers[k]).toBe(wanted);
    }
  });
});

describe('carrierOfPulses', () => {
  const middles = [0.1, 0.15, 0.2].map((timeS) => timeS * RATE_HZ);

  test('is where the pulses are', () => {
    const samples = new Float32Array(0.4 * RATE_HZ);
    for (const middle of middles) addTone(samples, middle / RATE_HZ - 0.0125, 0.025, 262, 10);
    expect(Math.abs(carrierOfPulses(samples, RATE_HZ, middles, 250, 49, () => 0) - 262)).toBeLessThan(1);
  });

  test('takes off the noise expected at each frequency: in silence, where least is', () => {
    const silence = new Float32Array(0.4 * RATE_HZ);
    // A parabola about 258 Hz, which is one step of the grid above 250.
    const noise = (hz: number) => 1 + (hz - 258) ** 2;
    expect(carrierOfPulses(silence, RATE_HZ, middles, 250, 49, noise)).toBeCloseTo(258, 9);
    // At the end of the search there is no parabola.
    expect(carrierOfPulses(silence, RATE_HZ, middles, 250, 49, (hz) => 1 + hz)).toBe(210);
  });
});

describe('matchedView', () => {
  const view = (samples: Float32Array, hiddenAt?: () => number) =>
    matchedView(samples, RATE_HZ, 260, { fromS: 0.1, toS: 0.4 }, () => 2, hiddenAt)!;
  const toneAt = (hz: number) => {
    const samples = new Float32Array(RATE_HZ);
    addTone(samples, 0, 0.5, hz, 10);
    return samples;
  };

  test('gives back what was taken out with other pulses, of no more than three tenths', () => {
    const samples = toneAt(260);
    const whole = view(samples).matched(100);
    expect(view(samples, () => 0.5).matched(100) / whole).toBeCloseTo(2, 9);
    expect(view(samples, () => 0.9).matched(100) / whole).toBeCloseTo(1 / 0.3, 9);
  });

  test('gives the same in whatever order it is asked', () => {
    const samples = toneAt(263);
    const forwards = view(samples);
    const backwards = view(samples);
    const indices = Array.from({ length: 300 }, (_, k) => k);
    const there = indices.map((k) => forwards.matched(k));
    const back = indices.toReversed().map((k) => backwards.matched(k));
    expect(back.toReversed()).toEqual(there);
  });

  test('hears a sound beside the carrier on either side', () => {
    for (const hz of [190, 330]) expect(view(toneAt(hz)).powerBeside(0.25)).toBeGreaterThan(10);
    expect(view(toneAt(260)).powerBeside(0.25)).toBeLessThan(0.1);
  });

  test('the strongest moment near a time may be before it or after it, within reach', () => {
    const peakAt = (timeS: number): MatchedView => ({
      ...view(new Float32Array(RATE_HZ)),
      matched: (index) => 10 - Math.abs(index - Math.round((timeS - 0.1) * 1000)),
      fromS: 0.1,
      stepS: 0.001,
      count: 300,
    });
    for (const timeS of [0.243, 0.25, 0.257]) {
      const found = strongestNear(peakAt(timeS), 0.25, 0.008);
      expect(found).toEqual({ timeS: expect.closeTo(timeS, 9), ratio: 10 });
    }
    for (const [timeS, edgeS] of [
      [0.23, 0.242],
      [0.27, 0.258],
    ] as const) {
      expect(Math.abs(strongestNear(peakAt(timeS), 0.25, 0.008).timeS - edgeS)).toBeLessThan(0.0011);
    }
  });

  test('is none where the noise is not known', () => {
    expect(matchedView(toneAt(260), RATE_HZ, 260, { fromS: 0.1, toS: 0.4 }, () => 0)).toBeNull();
  });
});
