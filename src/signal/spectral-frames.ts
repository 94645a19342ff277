import FFT from 'fft.js';

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
 */
export function spectralFrames(
  samples: Float32Array,
  sampleRateHz: number,
  shape: FrameShape,
): SpectralFrames {
  const { windowLength, transformLength, hopLength } = shape;
  const window = hannWindow(windowLength);
  const scale = 1 / window.reduce((sum, w) => sum + w * w, 0);
  const frameCount = Math.floor((samples.length + hopLength - 1) / hopLength);
  const binCount = transformLength / 2 + 1;
  const power = new Float32Array(frameCount * binCount);
  const transform = new FFT(transformLength);
  const input = new Float64Array(2 * transformLength) as unknown as number[];
  const output = new Float64Array(2 * transformLength) as unknown as number[];
  const lead = windowLength >> 1;

  for (let frame = 0; frame < frameCount; frame += 2) {
    fillPart(input, 0, samples, frame * hopLength - lead, window);
    fillPart(input, 1, samples, (frame + 1) * hopLength - lead, window);
    transform.transform(output, input);
    const paired = frame + 1 < frameCount;
    const first = frame * binCount;
    for (let bin = 0; bin < binCount; bin++) {
      const mirror = bin === 0 ? 0 : transformLength - bin;
      const re = output[2 * bin]!;
      const im = output[2 * bin + 1]!;
      const mirrorRe = output[2 * mirror]!;
      const mirrorIm = output[2 * mirror + 1]!;
      const quarter = scale / 4;
      power[first + bin] = ((re + mirrorRe) ** 2 + (im - mirrorIm) ** 2) * quarter;
      if (paired) {
        power[first + binCount + bin] = ((im + mirrorIm) ** 2 + (mirrorRe - re) ** 2) * quarter;
      }
    }
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

function fillPart(
  input: number[],
  part: 0 | 1,
  samples: Float32Array,
  from: number,
  window: Float64Array,
): void {
  const length = window.length;
  if (from >= 0 && from + length <= samples.length) {
    for (let n = 0; n < length; n++) input[2 * n + part] = samples[from + n]! * window[n]!;
    return;
  }
  for (let n = 0; n < length; n++) {
    const at = from + n;
    input[2 * n + part] = at >= 0 && at < samples.length ? samples[at]! * window[n]! : 0;
  }
}
