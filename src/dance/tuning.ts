import { hannWindow } from '../signal/spectral-frames.ts';
import type { CarrierSound } from './carrier-envelope.ts';

/** Powers are compared this far above and below a carrier. */
export const TUNING_HZ = 20;
/** Spread of ln(power above / power below) of sound at the carrier, and of sound anywhere near it. */
const SPREAD_OWN = 0.45;
const SPREAD_OTHER = 1.8;
/** Variance that noise adds, times the power over the floor. */
const NOISE_SHARE = 3;
/** A sound of less power over the floor tells nothing of its carrier. */
export const LEAST_TUNED_RATIO = 2;
/** What a sound right at the carrier, far over the noise, may gain. */
export const LARGEST_TUNING_EVIDENCE = Math.log(SPREAD_OTHER / SPREAD_OWN);
/** Two dancers' pulses may coincide: no more than this is held against one. */
const LEAST_EVIDENCE = -12;
/** How fast trust in a pulse's power falls with evidence against its carrier. */
const DISTRUST = 4;

/**
 * ln likelihood ratio that a sound is at a carrier rather than anywhere near it, from its powers 20 Hz above and
 * below: both normal in ln(above / below), about 0.
 *
 * @param ratio power over the floor at the carrier
 * @param skew ln(power above / power below)
 */
function tuningEvidence(ratio: number, skew: number): number {
  if (ratio < LEAST_TUNED_RATIO) return 0;
  const own = SPREAD_OWN ** 2 + NOISE_SHARE / ratio;
  const other = Math.max(own, SPREAD_OTHER ** 2);
  return Math.max(LEAST_EVIDENCE, 0.5 * skew * skew * (1 / other - 1 / own) + 0.5 * Math.log(other / own));
}

/** A Hann window turned by 20 Hz: its weights times cosine and sine of the phase from its middle. */
export interface TunedWindow {
  readonly cosines: Float64Array;
  readonly sines: Float64Array;
  readonly energy: number;
}

const tunedWindows = new Map<string, TunedWindow>();

/**
 * Made once for each length and rate.
 *
 * @param length odd number of samples
 */
export function tunedWindowOf(length: number, sampleRateHz: number): TunedWindow {
  const key = `${length} ${sampleRateHz}`;
  let window = tunedWindows.get(key);
  if (window === undefined) {
    const weights = hannWindow(length);
    const phase = (n: number) => (2 * Math.PI * TUNING_HZ * (n - (length >> 1))) / sampleRateHz;
    window = {
      cosines: weights.map((weight, n) => weight * Math.cos(phase(n))),
      sines: weights.map((weight, n) => weight * Math.sin(phase(n))),
      energy: weights.reduce((sum, weight) => sum + weight * weight, 0),
    };
    tunedWindows.set(key, window);
  }
  return window;
}

/**
 * ln likelihood ratio that the sound in a window is at the carrier it was brought down from.
 *
 * @param centre middle of the window, samples from the first that `sound` may be centred on
 * @param ratio power over the floor at the carrier
 * @param noise mean noise power 20 Hz above and below, unit of `powerInWindow`
 */
export function tuningAt(
  sound: CarrierSound,
  centre: number,
  window: TunedWindow,
  ratio: number,
  noise: { above: number; below: number },
): number {
  if (ratio < LEAST_TUNED_RATIO) return 0;
  return tuningEvidence(ratio, skewAt(sound, centre, window, noise));
}

/** Variance of the skew of a sound at the carrier, of its power over the floor. */
export const skewVariance = (ratio: number): number => SPREAD_OWN ** 2 + NOISE_SHARE / ratio;

/** ln(power above / power below) in a window. */
export function skewAt(
  { real, imaginary, lead }: CarrierSound,
  centre: number,
  { cosines, sines, energy }: TunedWindow,
  noise: { above: number; below: number },
): number {
  const at = lead + centre - (cosines.length >> 1);
  let reCos = 0;
  let imCos = 0;
  let reSin = 0;
  let imSin = 0;
  for (let n = 0; n < cosines.length; n++) {
    const re = real[at + n]!;
    const im = imaginary[at + n]!;
    reCos += re * cosines[n]!;
    imCos += im * cosines[n]!;
    reSin += re * sines[n]!;
    imSin += im * sines[n]!;
  }
  const above = ((reCos + imSin) ** 2 + (imCos - reSin) ** 2) / energy;
  const below = ((reCos - imSin) ** 2 + (imCos + reSin) ** 2) / energy;
  return Math.log(withoutNoise(above, noise.above) / withoutNoise(below, noise.below));
}

/** Noise taken off a power; a part of it is left, so that there is a logarithm. */
const withoutNoise = (power: number, noise: number): number => Math.max(power - noise, 0.3 * noise + 1e-30);

/**
 * Evidence of a pulse's power and of its tuning together. What sounds at another carrier tells little by its power:
 * another dancer sings as loud.
 *
 * @param power ln likelihood ratio of the power, and the
 * @param largest that it may count
 */
export function withTuning(power: number, tuning: number, largest: number): number {
  const most = tuning >= 0 ? largest : Math.max(0, largest + DISTRUST * tuning);
  return Math.min(largest, Math.min(power, most) + tuning);
}
