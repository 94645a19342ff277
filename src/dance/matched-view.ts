import { peakOffset } from '../signal/peak.ts';
import { carrierPowerAt, carrierSound, phasorsOf, powersInWindow, windowOf } from './carrier-envelope.ts';
import { LEAST_LEFT } from './hidden.ts';
import { TUNING_HZ, tunedWindowOf, tuningAt } from './tuning.ts';

/** Power over the noise floor at one carrier around a train, in windows about as long as a pulse. */
export interface MatchedView {
  readonly matched: (index: number) => number;
  /** What of a pulse's power is left where others were taken out. */
  readonly leftAt: (timeS: number) => number;
  /** Number of values; time of the first, and from each to the next, s. */
  readonly count: number;
  readonly fromS: number;
  readonly stepS: number;
  /** The larger power over the floor 70 Hz below or above the carrier over that at the carrier. */
  readonly powerBeside: (timeS: number) => number;
  /** ln likelihood ratio that a pulse is at the carrier. */
  readonly tuningOf: (pulse: Pulse) => number;
  /** Power over the floor in a shorter window, for edges, from one index up to and with another: as in `matched`. */
  readonly edges: (first: number, last: number) => Float64Array;
}

/** A pulse of a train. */
export interface Pulse {
  /** Its middle, s from the start of the samples. */
  readonly timeS: number;
  /** Power over the noise floor there. */
  readonly ratio: number;
}

const STEP_S = 0.001;
/** Length of the Hann window that pulses are matched with, s. */
export const MATCHED_WINDOW_S = 0.024;
/** In whole samples, an odd number, this is 11.5 ms at 2 kHz. */
const EDGE_WINDOW_S = 0.0105;
const BESIDE_HZ = 70;

/** An odd number of samples that last about `seconds`. */
export function oddLength(seconds: number, sampleRateHz: number): number {
  return 2 * Math.round((seconds * sampleRateHz) / 2) + 1;
}

/**
 * @param noisePowerAt mean noise power at a frequency, in the unit of `powerInWindow`
 * @param hiddenAt share of a pulse's power that was taken out
 * @returns null where the noise is unknown (digital silence)
 */
export function matchedView(
  samples: Float32Array,
  sampleRateHz: number,
  carrierHz: number,
  range: { fromS: number; toS: number },
  noisePowerAt: (hz: number) => number,
  hiddenAt?: (timeS: number, carrierHz: number) => number,
): MatchedView | null {
  const noise = noisePowerAt(carrierHz);
  if (!(noise > 0)) return null;
  const step = Math.max(1, Math.round(STEP_S * sampleRateHz));
  const stepS = step / sampleRateHz;
  const fromSample = Math.round(range.fromS * sampleRateHz);
  const count = Math.ceil((range.toS - range.fromS) / stepS);
  const matchedLength = oddLength(MATCHED_WINDOW_S, sampleRateHz);
  const sound = carrierSound(samples, sampleRateHz, carrierHz, fromSample, count * step, matchedLength);
  const matchedWindow = windowOf(matchedLength);
  const edgeWindow = windowOf(oddLength(EDGE_WINDOW_S, sampleRateHz));
  const leftAt = (timeS: number) => (hiddenAt === undefined ? 1 : 1 - hiddenAt(timeS, carrierHz));
  // Most of the stretch is never looked at: values are worked out when they are asked for, and kept.
  const known = new Float64Array(count).fill(Number.NaN);
  const matched = (index: number): number => {
    const value = known[index]!;
    if (!Number.isNaN(value)) return value;
    // The next is mostly asked for next.
    const end = Math.min(count, index + 2);
    powersInWindow(sound, step, matchedWindow, known, index, end);
    // What was taken out takes of the noise as much as of a pulse.
    const leftOf = (k: number) => Math.max(LEAST_LEFT, leftAt((fromSample + k * step) / sampleRateHz));
    for (let k = index; k < end; k++) known[k]! /= noise * leftOf(k);
    return known[index]!;
  };
  const edges = (first: number, last: number): Float64Array => {
    const powers = new Float64Array(last + 1);
    powersInWindow(sound, step, edgeWindow, powers, first, last + 1);
    for (let k = first; k <= last; k++) powers[k]! /= noise;
    return powers;
  };
  const tunedWindow = tunedWindowOf(matchedLength, sampleRateHz);
  const noiseBeside = {
    above: noisePowerAt(carrierHz + TUNING_HZ),
    below: noisePowerAt(carrierHz - TUNING_HZ),
  };
  const tuningOf = ({ timeS, ratio }: Pulse): number => {
    const centre = Math.round(timeS * sampleRateHz) - fromSample;
    const inside = Math.max(0, Math.min(count * step - 1, centre));
    return tuningAt(sound, inside, tunedWindow, ratio, noiseBeside);
  };
  return {
    matched,
    leftAt,
    tuningOf,
    count,
    fromS: fromSample / sampleRateHz,
    stepS,
    powerBeside: besidePowers(samples, sampleRateHz, carrierHz, noisePowerAt),
    edges,
  };
}

/** Gives the larger power over the noise beside a carrier over that at it, at a time. */
function besidePowers(
  samples: Float32Array,
  sampleRateHz: number,
  carrierHz: number,
  noisePowerAt: (hz: number) => number,
): (timeS: number) => number {
  const window = windowOf(oddLength(MATCHED_WINDOW_S, sampleRateHz));
  const ratioAt = (hz: number) => {
    const phasors = phasorsOf(hz, sampleRateHz, window.weights.length);
    const noise = noisePowerAt(hz);
    return (sample: number) => carrierPowerAt(samples, phasors, sample, window) / noise;
  };
  const below = ratioAt(carrierHz - BESIDE_HZ);
  const here = ratioAt(carrierHz);
  const above = ratioAt(carrierHz + BESIDE_HZ);
  const known = new Map<number, number>();
  return (timeS) => {
    const sample = Math.round(timeS * sampleRateHz);
    let share = known.get(sample);
    if (share === undefined) {
      share = Math.max(below(sample), above(sample)) / (here(sample) + 1e-30);
      known.set(sample, share);
    }
    return share;
  };
}

/** The strongest moment within `reachS` of a time. */
export function strongestNear(view: MatchedView, timeS: number, reachS: number): Pulse {
  const { matched, count, fromS, stepS } = view;
  const low = Math.max(1, Math.ceil((timeS - reachS - fromS) / stepS));
  const high = Math.min(count - 2, Math.floor((timeS + reachS - fromS) / stepS));
  let best = Math.min(Math.max(1, Math.round((timeS - fromS) / stepS)), count - 2);
  for (let k = low; k <= high; k++) if (matched(k) > matched(best)) best = k;
  const offset = peakOffset(matched(best - 1), matched(best), matched(best + 1));
  return { timeS: fromS + (best + offset) * stepS, ratio: matched(best) };
}
