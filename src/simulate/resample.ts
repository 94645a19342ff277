/** Reaches this many samples of the slower of the two rates to each side. */
const REACH = 24;
const PHASES = 1024;

/** A band-limiting interpolator from one sample rate to another. */
export interface Interpolator {
  /** Source samples needed before and after the place of an output sample. */
  readonly reach: number;
  /**
   * Output samples from `firstOutput` on, of a source of which `input` holds the samples from `firstInput` on;
   * what lies outside `input` counts as zero.
   */
  readonly fill: (firstOutput: number, output: Float32Array, firstInput: number, input: Float32Array) => void;
}

/**
 * Band-limited interpolation by a sinc under a Kaiser window (beta 8, stop band below −80 dB): J. O. Smith,
 * "Digital Audio Resampling", from memory. Output sample k stands at source place k * inputRate / outputRate.
 */
export function createInterpolator(inputRateHz: number, outputRateHz: number): Interpolator {
  const scale = Math.min(1, outputRateHz / inputRateHz);
  const reach = Math.ceil(REACH / scale);
  const table = kernelTable(reach, scale);
  const width = 2 * reach;
  const fill = (firstOutput: number, output: Float32Array, firstInput: number, input: Float32Array) => {
    for (let index = 0; index < output.length; index++) {
      // Whole numbers first, so that long recordings lose no precision.
      const product = (firstOutput + index) * inputRateHz;
      const whole = Math.floor(product / outputRateHz);
      const place = ((product - whole * outputRateHz) / outputRateHz) * PHASES;
      const phase = Math.floor(place);
      const blend = place - phase;
      const row = phase * width;
      const start = whole - reach + 1 - firstInput;
      const from = Math.max(0, -start);
      const to = Math.min(width, input.length - start);
      let sum = 0;
      for (let tap = from; tap < to; tap++) {
        const low = table[row + tap]!;
        sum += input[start + tap]! * (low + blend * (table[row + width + tap]! - low));
      }
      output[index] = sum;
    }
  };
  return { reach, fill };
}

/** Resamples a whole array; the result covers the same time. */
export function resample(input: Float32Array, inputRateHz: number, outputRateHz: number): Float32Array {
  if (inputRateHz === outputRateHz) return input;
  const output = new Float32Array(Math.floor((input.length * outputRateHz) / inputRateHz));
  createInterpolator(inputRateHz, outputRateHz).fill(0, output, 0, input);
  return output;
}

/** Row p holds the kernel for a place p / PHASES beyond a source sample: taps −reach + 1 to reach. */
function kernelTable(reach: number, scale: number): Float64Array {
  const width = 2 * reach;
  const table = new Float64Array((PHASES + 1) * width);
  // The cut-off lies a little below half the slower rate, so that the transition band ends near it.
  const cutoff = scale < 1 ? 0.93 * scale : scale;
  for (let phase = 0; phase <= PHASES; phase++) {
    let sum = 0;
    for (let tap = 0; tap < width; tap++) {
      const distance = tap - reach + 1 - phase / PHASES;
      const value = cutoff * sinc(cutoff * distance) * kaiser(distance / reach, 8);
      table[phase * width + tap] = value;
      sum += value;
    }
    for (let tap = 0; tap < width; tap++) table[phase * width + tap]! /= sum;
  }
  return table;
}

/** sin(pi x) / (pi x). */
export function sinc(x: number): number {
  return Math.abs(x) < 1e-9 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
}

/** Kaiser window at x in [−1, 1], 0 outside. */
export function kaiser(x: number, beta: number): number {
  return Math.abs(x) >= 1 ? 0 : besselI0(beta * Math.sqrt(1 - x * x)) / besselI0(beta);
}

/** Modified Bessel function of the first kind, order 0, by its power series. */
function besselI0(x: number): number {
  let sum = 1;
  let term = 1;
  for (let index = 1; term > 1e-17 * sum; index++) {
    term *= (x / (2 * index)) ** 2;
    sum += term;
  }
  return sum;
}
