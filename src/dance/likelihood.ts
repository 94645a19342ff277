/**
 * How much more probable a power over the noise floor is when a pulse sounds than when only noise does, as a
 * natural logarithm.
 *
 * Noise power in one bin of a short-time spectrum, over its mean, is exponential with mean 1. With a pulse of
 * random amplitude and mean power s times the noise it is exponential with mean 1 + s. The strength s is not
 * known beforehand, so the ratio is averaged over strengths that cover what microphones in hives give:
 *   ln Σ_k w_k exp(z · s_k / (1 + s_k)) / (1 + s_k),  all w_k equal.
 * It is cut off above, because one loud sound must not outweigh a missing rhythm.
 *
 * Source: likelihood ratio of exponentials, Kay 1998, Fundamentals of Statistical Signal Processing II, 5.3
 * (square-law detection of a random signal; from memory).
 */
const STRENGTHS = [1, 2, 4, 10, 40];
export const LARGEST_LOG_RATIO = 6;

const STEPS_PER_UNIT = 16;
const TABLE_END = 32;
const table = Float64Array.from({ length: TABLE_END * STEPS_PER_UNIT + 1 }, (_, step) =>
  exactLogRatio(step / STEPS_PER_UNIT),
);

/** ln likelihood ratio of pulse against noise for power `overFloor` (≥ 0) over the noise floor. */
export function pulseLogRatio(overFloor: number): number {
  return overFloor >= TABLE_END ? LARGEST_LOG_RATIO : table[(overFloor * STEPS_PER_UNIT + 0.5) | 0]!;
}

function exactLogRatio(overFloor: number): number {
  let sum = 0;
  for (const s of STRENGTHS) sum += Math.exp((overFloor * s) / (1 + s)) / (1 + s);
  return Math.min(LARGEST_LOG_RATIO, Math.log(sum / STRENGTHS.length));
}

/**
 * What sound in the gap between two pulses takes off: what it would have earned as sound, in so far as it is as
 * strong as the pulses; under 15 % of their power nothing, from 50 % on all.
 *
 * @param gap power over the noise floor in the gap
 * @param pulses the same at the pulses
 */
export function gapShareCost(gap: number, pulses: number): number {
  const share = gap / pulses;
  if (share <= 0.15) return 0;
  const weight = Math.min(1, Math.log(share / 0.15) / Math.log(0.5 / 0.15));
  return weight * Math.max(0, pulseLogRatio(gap));
}
