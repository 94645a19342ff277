import type { Stage } from './decimator.ts';

/** Short against a pulse (15 to 30 ms), long against a period of its carrier (2.5 to 5 ms). */
const TIME_CONSTANT_S = 0.004;

/**
 * The level of a sound over time, as a stream: samples are squared, smoothed, and the root is taken, so that a
 * steady tone of amplitude a gives a / √2 and noise of variance v gives √v. Smoothing is by two equal one-pole
 * averages, y += (x − y)(1 − e^(−1 / (T · rate))) each: never negative, without overshoot. The result lags by
 * twice the time constant. How the stream is cut changes nothing.
 *
 * @param timeConstantS time constant T of each average, s
 */
export function envelopeFollower(sampleRateHz: number, timeConstantS: number = TIME_CONSTANT_S): Stage {
  if (!(timeConstantS > 0)) throw new RangeError(`a time constant of ${timeConstantS} s, not above 0`);
  const share = -Math.expm1(-1 / (timeConstantS * sampleRateHz));
  let first = 0;
  let second = 0;
  const push = (block: Float32Array): Float32Array => {
    const level = new Float32Array(block.length);
    for (let n = 0; n < block.length; n++) {
      first += share * (block[n]! ** 2 - first);
      second += share * (first - second);
      level[n] = Math.sqrt(second);
    }
    return level;
  };
  return { push, finish: () => new Float32Array(0) };
}
