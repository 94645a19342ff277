import type { CarrierRatios } from './pulse-candidates.ts';
import type { SegmentView } from './segment-view.ts';
import {
  type ToneExtent,
  type ToneGlide,
  type ToneLevels,
  toneExtent,
  toneGlide,
  toneLevels,
} from './tone-measures.ts';
import { LEAST_TONE_S, type ToneLimits, toneTracks } from './tone-tracks.ts';

/** A stretch of unbroken tone before it is given a kind. Times are seconds from the segment's start. */
export interface Tone extends Pick<ToneExtent, 'startS' | 'endS'>, ToneGlide, ToneLevels {
  /** Its levels in slow windows, which tell a tone from pulses and noise. */
  readonly slow: ToneLevels;
}

/** In windows as long as a pulse, and in slow ones, where noise has fewer independent powers to average. */
const LIMITS = { onLog: Math.log(3.2), offLog: Math.log(2.2) };
const SLOW_LIMITS = { onLog: Math.log(5), offLog: Math.log(3) };
/** Slow windows bridge the silence between the tones of a series: what is longer than one is left out. */
const LONGEST_SLOW_S = 0.3;
/** How far beside a carrier other sound is looked for: three carriers are 70 to 100 Hz by the rate. */
const BESIDE_CARRIERS = 3;
const SLOW_BESIDE_HZ = 35;

/** Longer than a begging call, a tone in slow windows may bridge two of a series. */
const LEAST_BRIDGE_S = 0.21;
/** From so long on, a tone found in the other windows is told from a call by its length. */
const LEAST_LONG_S = 0.35;
/** Readings of one tone are so near in carrier, and end so near to each other, at most. */
const SAME_HZ = 20;
const SAME_S = 0.02;

/**
 * Unbroken tones between 250 and 620 Hz (the outermost carriers only as neighbours), looked for in windows as long as
 * a pulse and in others as long as a short call: the first time a tone well, the second find it deeper in noise.
 */
export function findTones(view: SegmentView): Tone[] {
  const tones = tonesIn(view, view.callCarriers, LIMITS);
  const long = tones.filter((tone) => lengthOf(tone) >= LEAST_LONG_S);
  const slow = tonesIn(view, view.slowCallCarriers, SLOW_LIMITS).filter(
    (tone) => lengthOf(tone) <= LONGEST_SLOW_S && !isBridge(tone, tones) && !isPart(tone, long),
  );
  return [...tones, ...slow].sort((a, b) => a.startS - b.startS || a.carrierHz - b.carrierHz);
}

const lengthOf = ({ startS, endS }: Tone): number => endS - startS;

function tonesIn(view: SegmentView, ratios: CarrierRatios, limits: ToneLimits): Tone[] {
  const { callCarriers, slowCallCarriers } = view;
  const tones: Tone[] = [];
  for (const track of toneTracks(ratios, limits)) {
    const extent = toneExtent(ratios, track);
    if (extent.endS - extent.startS < LEAST_TONE_S) continue;
    const glide = toneGlide(ratios, view.callNoisePowerAt, track, extent);
    const { carrierHz, riseHz } = glide;
    const tone = { startS: extent.startS, endS: extent.endS, carrierHz, riseHz };
    const levels = toneLevels(callCarriers, tone, BESIDE_CARRIERS * callCarriers.carrierStepHz);
    // Each property by name: the engine is slow with what is spread from others, and tones are many.
    tones.push({
      startS: tone.startS,
      endS: tone.endS,
      carrierHz,
      riseHz,
      ratio: levels.ratio,
      unevenness: levels.unevenness,
      besideShare: levels.besideShare,
      beforeShare: levels.beforeShare,
      afterShare: levels.afterShare,
      slow: toneLevels(slowCallCarriers, tone, SLOW_BESIDE_HZ),
    });
  }
  return tones;
}

/** Whether a tone in slow windows bridges the silence between two that follow each other at its carrier. */
function isBridge(slow: Tone, tones: readonly Tone[]): boolean {
  if (lengthOf(slow) < LEAST_BRIDGE_S) return false;
  const within = tones.filter(
    ({ startS, endS, carrierHz }) =>
      startS > slow.startS - 0.03 &&
      endS < slow.endS + 0.03 &&
      Math.abs(carrierHz - slow.carrierHz) < SAME_HZ,
  );
  const firstEndS = Math.min(...within.map(({ endS }) => endS));
  return within.some(({ startS }) => startS > firstEndS);
}

/** Whether a tone in slow windows is a part of a long one. */
const isPart = (slow: Tone, long: readonly Tone[]): boolean =>
  long.some(
    (tone) =>
      tone.startS <= slow.startS + SAME_S &&
      tone.endS >= slow.endS - SAME_S &&
      Math.abs(tone.carrierHz - slow.carrierHz) < SAME_HZ,
  );
