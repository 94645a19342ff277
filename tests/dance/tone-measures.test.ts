import { expect, test } from 'vitest';
import { findTones, type Tone } from '../../src/dance/find-calls.ts';
import type { CarrierRatios } from '../../src/dance/pulse-candidates.ts';
import type { SegmentView } from '../../src/dance/segment-view.ts';
import { keptSlowRoom, slowCarriers } from '../../src/dance/slow-carriers.ts';
import { addTone, RATE_HZ, whiteNoise } from './made-sound.ts';

const HOP_S = 0.004;
const FRAMES = 240;
const CARRIERS = 9;
const STEP_HZ = 31.25;

/** Power over the floor in a frame, at a place among the carriers. */
type Sound = (frame: number) => { power: number; place: number } | null;

const carriersOf = (sound: Sound): CarrierRatios => ({
  ratio: Float32Array.from({ length: FRAMES * CARRIERS }, (_, at) => {
    const here = sound(Math.floor(at / CARRIERS));
    if (here === null) return 0.95;
    return Math.max(0.95, here.power * Math.exp(-0.5 * (((at % CARRIERS) - here.place) / 0.5) ** 2));
  }),
  frameCount: FRAMES,
  carrierCount: CARRIERS,
  firstCarrierHz: 280,
  carrierStepHz: STEP_HZ,
  hopS: HOP_S,
});

const tonesOf = (sound: Sound, slow: Sound = () => null): Tone[] =>
  findTones({
    callCarriers: carriersOf(sound),
    slowCallCarriers: carriersOf(slow),
    callNoisePowerAt: () => 1,
  } as unknown as SegmentView);

const between = (from: number, to: number, power: number) => (frame: number) =>
  frame >= from && frame < to ? { power, place: 4 } : null;

test('a tone begins where its power first reaches three tenths of its mean', () => {
  const tones = tonesOf((frame) => between(60, 75, 10)(frame) ?? between(75, 120, 100)(frame));
  expect(Math.min(...tones.map(({ startS }) => startS))).toBeCloseTo(75 * HOP_S, 9);
});

test('the rise of a carrier is that over two thirds of the tone', () => {
  const perFrame = 0.05;
  const [tone] = tonesOf((frame) =>
    frame >= 60 && frame < 110 ? { power: 100, place: 3 + perFrame * (frame - 60) } : null,
  );
  const lengthFrames = (tone!.endS - tone!.startS) / HOP_S;
  expect(tone!.riseHz / (perFrame * STEP_HZ * lengthFrames)).toBeCloseTo(2 / 3, 1);
});

test('what sounds up to a tenth of a second before a tone, or after it, counts as beside it', () => {
  const [tone] = tonesOf((frame) => between(76, 84, 100)(frame) ?? between(100, 140, 100)(frame));
  expect(tone!.startS).toBeCloseTo(100 * HOP_S, 9);
  // Eight of the frames from 0.1 to 0.02 s before.
  expect(tone!.beforeShare).toBeGreaterThan(0.3);
  expect(tone!.beforeShare).toBeLessThan(0.5);
  expect(tone!.afterShare).toBeLessThan(0.02);
});

test('a tone in slow windows that is a part of a long one is left out, one for itself is not', () => {
  const long = between(60, 170, 100);
  const part = between(80, 130, 100);
  const shortest = (tones: readonly Tone[]) =>
    Math.min(...tones.map(({ startS, endS }) => Math.round((endS - startS) / HOP_S)));
  expect(shortest(tonesOf(long, part))).toBeGreaterThan(100);
  expect(shortest(tonesOf(() => null, part))).toBeLessThan(55);
});

test('a sound of several seconds does not lift the floor under slow windows', () => {
  const samples = whiteNoise(31, 30);
  addTone(samples, 13, 3.6, 400, 6);
  const band = { lowHz: 250, highHz: 620, reachS: 10, factor: 1.5 };
  const { ratio, carrierCount, firstCarrierHz, carrierStepHz, hopS } = slowCarriers(
    samples,
    RATE_HZ,
    band,
    keptSlowRoom(),
  );
  const carrier = Math.round((400 - firstCarrierHz) / carrierStepHz);
  const at = (timeS: number) => ratio[Math.round(timeS / hopS) * carrierCount + carrier]!;
  for (const timeS of [14, 14.8, 15.6]) expect(at(timeS)).toBeGreaterThan(10);
});
