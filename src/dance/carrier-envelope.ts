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
