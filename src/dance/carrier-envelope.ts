import { peakOffset } from '../signal/peak.ts';
import { hannWindow } from '../signal/spectral-frames.ts';

/**
 * Power around one carrier over time: |Σ x[n] w[n − centre] e^(−i 2π f n / rate)|² / Σ w², for centres every
 * `stepSamples` samples from `fromSample` on. White noise of variance v gives a mean of v. Samples outside the
 * stretch count as zero.
 *
 * @param windowLength odd number of samples of the Hann window
 * @returns one power for each centre
 */
export function carrierPower(
  samples: Float32Array,
  sampleRateHz: number,
  carrierHz: number,
  fromSample: number,
  count: number,
  stepSamples: number,
  windowLength: number,
): Float64Array {
  const window = hannWindow(windowLength);
  const lead = windowLength >> 1;
  const first = fromSample - lead;
  const length = (count - 1) * stepSamples + windowLength;
  const real = new Float64Array(length);
  const imaginary = new Float64Array(length);
  const low = Math.max(0, -first);
  const high = Math.min(length, samples.length - first);
  // The phasor is turned by multiplication; over the few thousand samples of a train this loses nothing.
  const turnRe = Math.cos((2 * Math.PI * carrierHz) / sampleRateHz);
  const turnIm = Math.sin((2 * Math.PI * carrierHz) / sampleRateHz);
  let phasorRe = 1;
  let phasorIm = 0;
  for (let n = low; n < high; n++) {
    const sample = samples[first + n]!;
    real[n] = sample * phasorRe;
    imaginary[n] = sample * phasorIm;
    const nextRe = phasorRe * turnRe - phasorIm * turnIm;
    phasorIm = phasorRe * turnIm + phasorIm * turnRe;
    phasorRe = nextRe;
  }
  const scale = 1 / window.reduce((sum, w) => sum + w * w, 0);
  const power = new Float64Array(count);
  for (let k = 0; k < count; k++) {
    let re = 0;
    let im = 0;
    const at = k * stepSamples;
    for (let n = 0; n < windowLength; n++) {
      const weight = window[n]!;
      re += weight * real[at + n]!;
      im += weight * imaginary[at + n]!;
    }
    power[k] = (re * re + im * im) * scale;
  }
  return power;
}

const GRID_HZ = 8;
const GRID_REACH = 5;

/**
 * The carrier of a row of pulses, Hz: where the power of Hann windows placed on the pulses, summed over them
 * and less the noise expected there, is greatest; on a grid of 8 Hz, then by a parabola. The noise falls with
 * frequency, so that power over the floor alone would place the carrier too high.
 *
 * @param pulseSamples middle of each pulse, samples
 * @param nearHz searched ± 40 Hz about this
 * @param noisePowerAt mean noise power at a frequency, unit of `carrierPower`
 */
export function carrierOfPulses(
  samples: Float32Array,
  sampleRateHz: number,
  pulseSamples: readonly number[],
  nearHz: number,
  windowLength: number,
  noisePowerAt: (hz: number) => number,
): number {
  const window = hannWindow(windowLength);
  const scale = 1 / window.reduce((sum, w) => sum + w * w, 0);
  const lead = windowLength >> 1;
  const sums = new Float64Array(2 * GRID_REACH + 1);
  for (let k = -GRID_REACH; k <= GRID_REACH; k++) {
    const hz = nearHz + k * GRID_HZ;
    const turn = (2 * Math.PI * hz) / sampleRateHz;
    const re = window.map((w, n) => w * Math.cos(turn * n));
    const im = window.map((w, n) => w * Math.sin(turn * n));
    let sum = 0;
    for (const centre of pulseSamples) {
      const from = Math.round(centre) - lead;
      if (from < 0 || from + windowLength > samples.length) continue;
      let sumRe = 0;
      let sumIm = 0;
      for (let n = 0; n < windowLength; n++) {
        sumRe += re[n]! * samples[from + n]!;
        sumIm += im[n]! * samples[from + n]!;
      }
      sum += sumRe * sumRe + sumIm * sumIm;
    }
    sums[k + GRID_REACH] = sum * scale - pulseSamples.length * noisePowerAt(hz);
  }
  let best = 0;
  for (let k = 1; k < sums.length; k++) if (sums[k]! > sums[best]!) best = k;
  const offset =
    best === 0 || best === sums.length - 1 ? 0 : peakOffset(sums[best - 1]!, sums[best]!, sums[best + 1]!);
  return nearHz + (best - GRID_REACH + offset) * GRID_HZ;
}

/**
 * Power around one carrier in one Hann window, unit as `carrierPower`. Samples outside the stretch count as
 * zero.
 *
 * @param centre middle of the window, sample
 */
export function carrierPowerAt(
  samples: Float32Array,
  sampleRateHz: number,
  carrierHz: number,
  centre: number,
  windowLength: number,
): number {
  const window = hannWindow(windowLength);
  const from = centre - (windowLength >> 1);
  const turnRe = Math.cos((2 * Math.PI * carrierHz) / sampleRateHz);
  const turnIm = Math.sin((2 * Math.PI * carrierHz) / sampleRateHz);
  let phasorRe = 1;
  let phasorIm = 0;
  let re = 0;
  let im = 0;
  let energy = 0;
  for (let n = 0; n < windowLength; n++) {
    const weight = window[n]!;
    const sample = weight * (samples[from + n] ?? 0);
    re += sample * phasorRe;
    im += sample * phasorIm;
    energy += weight * weight;
    const nextRe = phasorRe * turnRe - phasorIm * turnIm;
    phasorIm = phasorRe * turnIm + phasorIm * turnRe;
    phasorRe = nextRe;
  }
  return (re * re + im * im) / energy;
}
