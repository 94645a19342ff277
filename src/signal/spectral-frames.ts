import FFT from 'fft.js';
import type { Room } from './kept-room.ts';

/** Power in frequency bins over time: frame k, bin b at `power[k * binCount + b]`. */
export interface SpectralFrames {
  readonly power: Float32Array;
  readonly frameCount: number;
  readonly binCount: number;
  /** Time between frames, s. Frame k is centred k * hopS after the first sample. */
  readonly hopS: number;
  readonly binWidthHz: number;
}

/** How samples are cut into frames. */
export interface FrameShape {
  /** Length of the Hann window, samples. */
  readonly windowLength: number;
  /** Transform length, a power of two, at least the window's. */
  readonly transformLength: number;
  readonly hopLength: number;
}

/**
 * Short-time power spectrum of real samples: |X|² of Hann-windowed frames centred on every `hopLength`-th
 * sample, scaled so that white noise of variance v gives a mean of v in every bin. Samples before the start
 * and after the end count as zero.
 *
 * Two frames share each complex transform, one as its real and one as its imaginary part: for
 * z = x + iy, X[k] = (Z[k] + conj Z[N−k]) / 2 and Y[k] = (Z[k] − conj Z[N−k]) / 2i.
 *
 * @param bins which are wanted, first and last; default: all. Others are left as they are in
 * @param room gives an array for the powers; default: a new one, of zeros
 */
export function spectralFrames(
  samples: Float32Array,
  sampleRateHz: number,
  shape: FrameShape,
  bins: { readonly firstBin?: number; readonly lastBin?: number } = {},
  room: Room<Float32Array> = (length) => new Float32Array(length),
): SpectralFrames {
  const { windowLength, transformLength, hopLength } = shape;
  const window = hannWindow(windowLength);
  const frameCount = Math.floor((samples.length + hopLength - 1) / hopLength);
  const binCount = transformLength / 2 + 1;
  const power = room(frameCount * binCount);
  const transform = transformOf(transformLength);
  const input = new Float64Array(2 * transformLength);
  const output = new Float64Array(2 * transformLength);
  const lead = windowLength >> 1;
  const quarter = 1 / window.reduce((sum, w) => sum + w * w, 0) / 4;
  const { firstBin = 0, lastBin = binCount - 1 } = bins;
  for (let frame = 0; frame < frameCount; frame += 2) {
    const from = frame * hopLength - lead;
    fillPair(input, samples, from, from + hopLength, window);
    transform.transform(asArray(output), asArray(input));
    const first = frame * binCount;
    const second = frame + 1 < frameCount ? first + binCount : -1;
    takePowers(power, first, second, output, quarter, firstBin, lastBin);
  }
  return {
    power,
    frameCount,
    binCount,
    hopS: hopLength / sampleRateHz,
    binWidthHz: sampleRateHz / transformLength,
  };
}

const hannWindows = new Map<number, Float64Array>();

/**
 * Hann window: 0.5 − 0.5 cos(2π (n + 0.5) / N), symmetric about its middle. Made once for each length and
 * shared: not to be written to.
 */
export function hannWindow(length: number): Float64Array {
  let window = hannWindows.get(length);
  if (window === undefined) {
    window = Float64Array.from(
      { length },
      (_, n) => 0.5 - 0.5 * Math.cos((2 * Math.PI * (n + 0.5)) / length),
    );
    hannWindows.set(length, window);
  }
  return window;
}

const transforms = new Map<number, FFT>();

/** The transform of a length: its tables are made once. */
export function transformOf(length: number): FFT {
  let transform = transforms.get(length);
  if (transform === undefined) {
    transform = new FFT(length);
    transforms.set(length, transform);
  }
  return transform;
}

/** fft.js reads and writes typed arrays as well as the plain ones that its declarations ask for. */
export const asArray = (values: Float64Array): number[] => values as unknown as number[];

/** Two windowed frames as real and imaginary parts; samples outside the stretch count as zero. */
function fillPair(
  input: Float64Array,
  samples: Float32Array,
  first: number,
  second: number,
  window: Float64Array,
): void {
  const length = window.length;
  if (first >= 0 && second + length <= samples.length) {
    for (let n = 0; n < length; n++) {
      const weight = window[n]!;
      input[2 * n] = samples[first + n]! * weight;
      input[2 * n + 1] = samples[second + n]! * weight;
    }
    return;
  }
  for (let n = 0; n < length; n++) {
    input[2 * n] = (samples[first + n] ?? 0) * window[n]!;
    input[2 * n + 1] = (samples[second + n] ?? 0) * window[n]!;
  }
}

/** Powers of both frames by the formulas of `spectralFrames`; the second's go nowhere where `second` is negative. */
function takePowers(
  power: Float32Array,
  first: number,
  second: number,
  output: Float64Array,
  quarter: number,
  firstBin: number,
  lastBin: number,
): void {
  for (let bin = firstBin; bin <= lastBin; bin++) {
    const at = 2 * bin;
    const mirror = bin === 0 ? 0 : output.length - at;
    const sumRe = output[at]! + output[mirror]!;
    const sumIm = output[at + 1]! + output[mirror + 1]!;
    const lessRe = output[at]! - output[mirror]!;
    const lessIm = output[at + 1]! - output[mirror + 1]!;
    power[first + bin] = (sumRe * sumRe + lessIm * lessIm) * quarter;
    if (second >= 0) power[second + bin] = (sumIm * sumIm + lessRe * lessRe) * quarter;
  }
}
