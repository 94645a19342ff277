import { peakOffset } from '../signal/peak.ts';
import { carrierPowerAt, carrierSound, powerInWindow, windowOf } from './carrier-envelope.ts';

/** Power over the noise floor at one carrier around a train, in windows about as long as a pulse. */
export interface MatchedView {
  readonly matched: (index: number) => number;
  /** Number of values; time of the first, and from each to the next, s. */
  readonly count: number;
  readonly fromS: number;
  readonly stepS: number;
  /** The larger power over the floor 70 Hz below or above the carrier over that at the carrier. */
  readonly powerBeside: (timeS: number) => number;
  /** Power over the floor in a shorter window, for edges; same times as `matched`. */
  readonly edges: (index: number) => number;
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
const EDGE_WINDOW_S = 0.0105;
const BESIDE_HZ = 70;

/** An odd number of samples that last about `seconds`. */
export function oddLength(seconds: number, sampleRateHz: number): number {
  return 2 * Math.round((seconds * sampleRateHz) / 2) + 1;
}

/**
 * @param noisePowerAt mean noise power at a frequency, in the unit of `powerInWindow`
 * @returns null where the noise is unknown (digital silence)
 */
export function matchedView(
  samples: Float32Array,
  sampleRateHz: number,
  carrierHz: number,
  range: { fromS: number; toS: number },
  noisePowerAt: (hz: number) => number,
): MatchedView | null {
  const noise = noisePowerAt(carrierHz);
  if (!(noise > 0)) return null;
  const step = Math.max(1, Math.round(STEP_S * sampleRateHz));
  const stepS = step / sampleRateHz;
  const fromSample = Math.round(range.fromS * sampleRateHz);
  const count = Math.ceil((range.toS - range.fromS) / stepS);
  const matchedLength = oddLength(MATCHED_WINDOW_S, sampleRateHz);
  const sound = carrierSound(samples, sampleRateHz, carrierHz, fromSample, count * step, matchedLength);
  // Most of the stretch is never looked at: values are worked out when they are asked for, and kept.
  const overNoise = (windowLength: number) => {
    const window = windowOf(windowLength);
    const known = new Float64Array(count).fill(Number.NaN);
    return (index: number): number => {
      let value = known[index]!;
      if (Number.isNaN(value)) {
        value = powerInWindow(sound, index * step, window) / noise;
        known[index] = value;
      }
      return value;
    };
  };
  const ratioAt = (hz: number, sample: number) =>
    carrierPowerAt(samples, sampleRateHz, hz, sample, matchedLength) / noisePowerAt(hz);
  const beside = new Map<number, number>();
  const powerBeside = (timeS: number): number => {
    const sample = Math.round(timeS * sampleRateHz);
    let share = beside.get(sample);
    if (share === undefined) {
      const larger = Math.max(ratioAt(carrierHz - BESIDE_HZ, sample), ratioAt(carrierHz + BESIDE_HZ, sample));
      share = larger / (ratioAt(carrierHz, sample) + 1e-30);
      beside.set(sample, share);
    }
    return share;
  };
  return {
    matched: overNoise(matchedLength),
    count,
    fromS: fromSample / sampleRateHz,
    stepS,
    powerBeside,
    edges: overNoise(oddLength(EDGE_WINDOW_S, sampleRateHz)),
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
