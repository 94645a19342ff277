import { describe, expect, test } from 'vitest';
import { hearApart } from '../../src/dance/apart-from-calls.ts';
import type { Tone } from '../../src/dance/find-calls.ts';
import { viewSegment } from '../../src/dance/segment-view.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { toneSound } from '../../src/dance/tone-sound.ts';
import { addTone, RATE_HZ, whiteNoise } from './made-sound.ts';
import { madeTone } from './made-tone.ts';

/** A call of 0.12 s, as it is measured: a little short of where it sounds. */
const call = (carrierHz: number, startS = 5, more: Partial<Tone> = {}): Tone =>
  madeTone({ startS: startS + 0.01, endS: startS + 0.104, carrierHz, ratio: 500, ...more });

const energy = (samples: Float32Array) => samples.reduce((sum, value) => sum + value * value, 0);

describe('toneSound', () => {
  const noise = whiteNoise(31, 8);
  const loud = new Float32Array(noise.length);
  addTone(loud, 5, 0.12, 320, 18);
  const both = noise.map((value, n) => value + loud[n]!);

  test.each([[320], [314], [326]])(
    'a call of 320 Hz measured at %d Hz is found all but 5 % of its energy',
    (measuredHz) => {
      const { from, samples } = toneSound(both, RATE_HZ, call(measuredHz), 1);
      const rest = loud.slice();
      samples.forEach((value, n) => {
        rest[from + n]! -= value;
      });
      expect(energy(rest)).toBeLessThan(0.05 * energy(loud));
    },
  );

  test('it begins and ends where the call does, within 10 and 20 ms', () => {
    const { from, samples } = toneSound(both, RATE_HZ, call(320), 1);
    expect(Math.abs(from / RATE_HZ - 5)).toBeLessThan(0.01);
    expect(Math.abs((from + samples.length) / RATE_HZ - 5.12)).toBeLessThan(0.02);
  });

  test('little is found of noise alone: the terms it is a sum of', () => {
    const { samples } = toneSound(noise, RATE_HZ, call(320), 1);
    // 2 · 20 Hz · 0.2 s + 1 terms at most, each with twice the variance of the noise on average.
    expect(energy(samples)).toBeLessThan(3 * 2 * 9);
  });
});

describe('hearApart', () => {
  const samples = whiteNoise(33, 8);
  addTone(samples, 5, 0.12, 320, 18);
  const view = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
  const within = ({ samples }: { samples: Float32Array }) =>
    energy(samples.slice(5 * RATE_HZ, 5.12 * RATE_HZ));

  test('a dancer far in carrier is heard without the call, of which only the onset hides her', () => {
    const heard = hearApart(view, [call(320)])(240);
    // Noise of variance 1 for 0.12 s is left: 240; with the call it is 3000.
    expect(within(view)).toBeGreaterThan(2500);
    expect(within(heard)).toBeLessThan(1.2 * 0.12 * RATE_HZ);
    expect(heard.covered).toHaveLength(1);
    const [fromS, toS] = heard.covered![0]!;
    expect(fromS).toBeLessThan(5);
    expect(toS).toBeGreaterThan(5);
    expect(toS - fromS).toBeCloseTo(0.02, 6);
  });

  test('to a dancer near in carrier the call is left, and hides her all along', () => {
    const heard = hearApart(view, [call(320)])(300);
    expect(within(heard)).toBe(within(view));
    expect(heard.covered).toEqual([[5.01 - 0.014, 5.104 + 0.03]]);
  });

  test('a tone that is but the side of a louder one hides nothing', () => {
    const side = call(290, 5, { ratio: 60 });
    const heard = hearApart(view, [call(320), side])(280);
    expect(heard.covered).toHaveLength(1);
    const alone = hearApart(view, [side])(280);
    expect(alone.covered).toHaveLength(1);
    expect(alone.covered![0]![1] - alone.covered![0]![0]).toBeGreaterThan(0.1);
  });

  test.each([
    [281, false],
    [279, true],
    [359, false],
    [361, true],
  ])('for a dancer at %d Hz a call of 320 Hz is taken out: %s', (carrierHz, taken) => {
    const heard = hearApart(view, [call(320)])(carrierHz);
    expect(within(heard) < 0.5 * within(view)).toBe(taken);
  });

  test.each([
    [0.249, 1],
    [0.251, 0],
  ])('of tones %f s long %d hide anything', (lengthS, count) => {
    const heard = hearApart(view, [call(320, 5, { endS: 5.01 + lengthS })])(300);
    expect(heard.covered ?? []).toHaveLength(count);
  });

  test('the same carrier gives the same view, worked out once', () => {
    const hear = hearApart(view, [call(320)]);
    expect(hear(240)).toBe(hear(241));
    expect(hearApart(view, [])(240)).toBe(view);
  });

  test('about a stretch only the calls within a second of it count', () => {
    const hear = hearApart(view, [call(320), call(250, 2)]);
    const stretch = (startS: number) => ({ startS, endS: startS + 0.5 });
    expect(hear(240, stretch(3.2))).toBe(view);
    const near = hear(240, stretch(5.9));
    expect(within(near)).toBeLessThan(1.2 * 0.12 * RATE_HZ);
    // 290 Hz is far from the other call, which 240 Hz is not; here that call is of no account.
    expect(hear(210, stretch(5.9))).toBe(near);
    expect(hear(290)).not.toBe(near);
    expect(hear(290, stretch(5.9)).covered).not.toEqual(near.covered);
  });
});
