import type { SegmentView } from './segment-view.ts';
import {
  type ToneExtent,
  type ToneGlide,
  type ToneLevels,
  toneExtent,
  toneGlide,
  toneLevels,
} from './tone-measures.ts';
import { LEAST_TONE_S, toneTracks } from './tone-tracks.ts';

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
/** How far beside a carrier other sound is looked for, Hz: 70 to 100 by the rate. */
const BESIDE_CARRIERS = 3;
const SLOW_BESIDE_HZ = 35;

/**
 * Unbroken tones between 250 and 620 Hz (the outermost carriers only as neighbours), looked for in windows as long as
 * a pulse and in others as long as a short call: the first time a tone well, the second find it deeper in noise.
 */
export function findTones(view: SegmentView): Tone[] {
  const { callCarriers, slowCallCarriers } = view;
  const tones: Tone[] = [];
  for (const [ratios, limits, longestS] of [
    [callCarriers, LIMITS, Number.POSITIVE_INFINITY],
    [slowCallCarriers, SLOW_LIMITS, LONGEST_SLOW_S],
  ] as const) {
    for (const track of toneTracks(ratios, limits)) {
      const extent = toneExtent(ratios, track);
      const lengthS = extent.endS - extent.startS;
      if (lengthS < LEAST_TONE_S || lengthS > longestS) continue;
      const glide = toneGlide(ratios, view.callNoisePowerAt, track, extent);
      const levels = toneLevels(callCarriers, extent, glide, BESIDE_CARRIERS * callCarriers.carrierStepHz);
      tones.push({
        startS: extent.startS,
        endS: extent.endS,
        carrierHz: glide.carrierHz,
        riseHz: glide.riseHz,
        ratio: levels.ratio,
        unevenness: levels.unevenness,
        besideShare: levels.besideShare,
        beforeShare: levels.beforeShare,
        afterShare: levels.afterShare,
        slow: toneLevels(slowCallCarriers, extent, glide, SLOW_BESIDE_HZ),
      });
    }
  }
  return tones.sort((a, b) => a.startS - b.startS || a.carrierHz - b.carrierHz);
}
