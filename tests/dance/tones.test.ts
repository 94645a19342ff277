import { describe, expect, test } from 'vitest';
import { intersectionOverUnion } from '../../src/dance/agreement.ts';
import { findTones, type Tone } from '../../src/dance/find-calls.ts';
import type { CarrierRatios } from '../../src/dance/pulse-candidates.ts';
import { type SegmentView, viewSegment } from '../../src/dance/segment-view.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { addTone, RATE_HZ, whiteNoise } from './made-sound.ts';

const HOP_S = 0.004;

/** The tones in powers over the floor by frame, at the middle one of nine carriers; all else is as quiet as noise. */
const tonesIn = (powers: readonly number[]) =>
  tonesOver((ratio) => {
    powers.forEach((power, frame) => {
      ratio[frame * CARRIER_COUNT + 4] = power;
    });
  }, powers.length);

const CARRIER_COUNT = 9;

function tonesOver(
  put: (ratio: Float32Array) => void,
  frameCount: number,
  callNoisePowerAt: SegmentView['callNoisePowerAt'] = () => 1,
) {
  const ratio = new Float32Array(frameCount * CARRIER_COUNT).fill(0.95);
  put(ratio);
  const callCarriers: CarrierRatios = {
    ratio,
    frameCount,
    carrierCount: CARRIER_COUNT,
    firstCarrierHz: 280,
    carrierStepHz: 31.25,
    hopS: HOP_S,
  };
  // Nothing is heard in slow windows.
  const slowCallCarriers = { ...callCarriers, ratio: new Float32Array(ratio.length).fill(0.95) };
  return findTones({ callCarriers, slowCallCarriers, callNoisePowerAt } as unknown as SegmentView);
}

const frames = (count: number, power: number) => new Array<number>(count).fill(power);

describe('findTones', () => {
  test('measures when a tone sounds, its carrier, and its power to what is around it', () => {
    const [tone] = tonesIn([...frames(40, 0.95), ...frames(40, 100), ...frames(40, 0.95)]);
    expect(tone!.startS).toBeCloseTo(40 * HOP_S, 9);
    expect(tone!.endS).toBeCloseTo(79 * HOP_S, 9);
    expect(tone!.carrierHz).toBeCloseTo(280 + 4 * 31.25, 6);
    // Three frames before and after, by the averaging, belong to the track.
    expect(tone!.ratio).toBeGreaterThan(80);
    expect(tone!.besideShare * tone!.ratio).toBeCloseTo(0.95, 5);
  });

  test('a floor that slopes does not draw the carrier to where it is low', () => {
    // A Hann window's lobe (24 ms: 61 Hz from its top to half the power) about 410 Hz, over a floor that falls to a
    // fifth from each carrier to the next lower one.
    const noiseAt = (_: number, hz: number) => 5 ** ((hz - 405) / 31.25);
    const tones = tonesOver(
      (ratio) => {
        for (let frame = 40; frame < 80; frame++) {
          for (let carrier = 0; carrier < CARRIER_COUNT; carrier++) {
            const hz = 280 + carrier * 31.25;
            const power = 400 * Math.exp(-Math.LN2 * ((hz - 410) / 30) ** 2);
            ratio[frame * CARRIER_COUNT + carrier] = 0.95 + power / noiseAt(0, hz);
          }
        }
      },
      120,
      noiseAt,
    );
    for (const { carrierHz } of tones) expect(Math.abs(carrierHz - 410)).toBeLessThan(2);
    expect(tones.length).toBeGreaterThan(0);
  });

  test('calls that follow each other in one track are read each for itself', () => {
    const tones = tonesIn([
      ...frames(40, 0.95),
      ...frames(30, 100),
      ...frames(10, 8),
      ...frames(30, 40),
      1,
      1,
    ]);
    const lasts = (fromFrame: number, toFrame: number) =>
      tones.some(
        ({ startS, endS }) =>
          Math.abs(startS - fromFrame * HOP_S) < 0.013 && Math.abs(endS - toFrame * HOP_S) < 0.013,
      );
    expect(lasts(40, 70)).toBe(true);
    expect(lasts(80, 110)).toBe(true);
  });

  test('tells what sounds at its carrier before it from what sounds after it', () => {
    const [tone] = tonesIn([...frames(40, 2), ...frames(40, 100), ...frames(40, 0.5)]);
    expect(tone!.beforeShare * tone!.ratio).toBeCloseTo(2, 5);
    expect(tone!.afterShare * tone!.ratio).toBeCloseTo(0.5, 5);
  });

  test('a tone goes on over 12 ms in which the average is low, and ends where it is so for 16', () => {
    // Averages over seven frames: ln 10.05 twice and ln 1 five times are 0.66, under ln 2.2; three and four are 0.99.
    const longest = (gap: number) => {
      const tones = tonesIn([
        ...frames(40, 0.95),
        ...frames(40, 10),
        ...frames(gap, 0.95),
        ...frames(40, 10),
        1,
      ]);
      return Math.max(...tones.map(({ startS, endS }) => endS - startS));
    };
    // Five quiet frames leave three low averages, six leave four.
    expect(longest(5)).toBeGreaterThan(80 * HOP_S);
    expect(longest(6)).toBeLessThan(50 * HOP_S);
  });

  test('a tone lasts 35 ms or more', () => {
    const isFound = (count: number) =>
      tonesIn([...frames(40, 0.95), ...frames(count, 100), ...frames(40, 0.95)]).length > 0;
    // From the first to the last frame: 32 and 36 ms.
    expect(isFound(9)).toBe(false);
    expect(isFound(10)).toBe(true);
  });

  test('pulses of a train are no tone', () => {
    const pulse = [...frames(6, 30), ...frames(7, 0.1)];
    expect(tonesIn(new Array(12).fill(pulse).flat())).toEqual([]);
  });
});

describe('in slow windows', () => {
  const viewOf = (lengthS: number, snrDb: number) => {
    const samples = whiteNoise(52, 20);
    addTone(samples, 10, lengthS, 410, snrDb);
    return viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
  };
  const near = (tones: readonly Tone[]) =>
    tones.filter(
      ({ startS, endS, carrierHz }) => startS < 10.2 && endS > 10 && Math.abs(carrierHz - 410) < 30,
    );

  test('a tone stands further over the noise, which tells it from pulses', () => {
    const [tone] = near(findTones(viewOf(0.2, 3)));
    expect(tone!.slow.ratio).toBeGreaterThan(1.6 * tone!.ratio);
  });

  test('twice as many faint tones are found as in windows as long as a pulse', () => {
    const samples = whiteNoise(53, 64);
    const starts = Array.from({ length: 20 }, (_, k) => 2 + 3 * k);
    for (const startS of starts) addTone(samples, startS, 0.15, 410, -1.5);
    const view = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
    const quiet = { ...view.slowCallCarriers, ratio: view.slowCallCarriers.ratio.map(() => 0.95) };
    const stretch = (start_s: number, end_s: number) => ({ recording: 'r', start_s, end_s });
    const timed = (tones: readonly Tone[]) =>
      starts.filter((at) =>
        tones.some(
          ({ startS, endS }) => intersectionOverUnion(stretch(at, at + 0.15), stretch(startS, endS)) >= 0.5,
        ),
      ).length;
    const without = timed(findTones({ ...view, slowCallCarriers: quiet }));
    expect(without).toBeGreaterThan(4);
    expect(timed(findTones(view))).toBeGreaterThanOrEqual(2 * without);
  });

  test('what bridges two tones of a series is not taken up', () => {
    const between = (lengthsS: readonly number[], least: number) => {
      const samples = whiteNoise(55, 20);
      let at = 10;
      for (const lengthS of lengthsS) {
        addTone(samples, at, lengthS, 410, 12);
        at += lengthS + 0.03;
      }
      const view = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
      const quiet = { ...view.callCarriers, ratio: view.callCarriers.ratio.map(() => 0.95) };
      const isSuch = ({ startS, endS }: Tone) => endS - startS > least && endS - startS <= 0.3;
      const alone = near(findTones({ ...view, callCarriers: quiet })).filter(isSuch);
      const both = near(findTones(view)).filter(isSuch);
      return [alone.length > 0, both.length > 0];
    };
    expect(between([0.1, 0.1], 0.21)).toEqual([true, false]);
    expect(between([0.25], 0.21)).toEqual([true, true]);
  });

  test('what lasts longer than 0.3 s is found in the others alone', () => {
    const isSlow = (lengthS: number) => {
      const view = viewOf(lengthS, 3);
      const quiet = { ...view.callCarriers, ratio: view.callCarriers.ratio.map(() => 0.95) };
      const inFull = ({ startS, endS }: Tone) => endS - startS > 0.8 * lengthS;
      return near(findTones({ ...view, callCarriers: quiet })).some(inFull);
    };
    expect(isSlow(0.25)).toBe(true);
    expect(isSlow(0.4)).toBe(false);
  });
});

test('in a knock all carriers are held to what the bins above the calls may be by chance, 1.5', () => {
  const samples = whiteNoise(51, 20);
  samples[10 * RATE_HZ] = 400;
  const { carriers } = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
  const frame = Math.round(10 / carriers.hopS);
  const row = carriers.ratio.subarray(frame * carriers.carrierCount, (frame + 1) * carriers.carrierCount);
  // Its power is alike at all carriers, and so is the floor of white noise but for some tenths.
  for (const ratio of row) expect(Math.abs(ratio - 1.5)).toBeLessThan(0.5);
});
