import FFT from 'fft.js';
import { selectRank } from './quantile.ts';
import { hannWindow } from './spectral-frames.ts';

/** Long enough to part a mains harmonic (a line) from a sound that bees make (never steady for seconds). */
const BLOCK_S = 4;
/** Median power of a line's bin over that of its neighbours. */
const LEAST_EXCESS = 8;
/** How many bins either side of a line a Hann window smears it over. */
const SMEAR = 3;
/** Neighbours that a line is told from, bins either side. */
const NEIGHBOURS = 24;

/**
 * Takes out tones that sound all along at one frequency, as mains hum, its harmonics and fans do: in spectra of
 * about 4 s, bins whose median over the stretch stands 8 times over the median of their neighbours are set to
 * zero, and the spectra turned back into sound (Hann windows that overlap by half add up to 1, so that all else
 * stays as it was). What is lost with a tone is a band of about 2 Hz. Stretches of under three blocks, and those
 * without such tones, come back as they are.
 *
 * Source: short-time Fourier analysis and synthesis by overlap-add, Allen & Rabiner 1977, Proc IEEE 65:1558
 * (from memory).
 */
export function withoutSteadyTones(samples: Float32Array, sampleRateHz: number): Float32Array {
  const length = 2 ** Math.round(Math.log2(BLOCK_S * sampleRateHz));
  if (samples.length < 3 * length) return samples;
  const transform = new FFT(length);
  const lines = steadyBins(samples, transform, length);
  return lines.length === 0 ? samples : withoutBins(samples, transform, length, lines);
}

/** Bins to be set to zero, from 1 up to half the length; empty where nothing is steady. */
function steadyBins(samples: Float32Array, transform: FFT, length: number): number[] {
  const window = hannWindow(length);
  const half = length / 2;
  const blocks: Float32Array[] = [];
  const input = new Float64Array(length) as unknown as number[];
  const output = new Float64Array(2 * length) as unknown as number[];
  for (let from = 0; from + length <= samples.length; from += length) {
    for (let n = 0; n < length; n++) input[n] = samples[from + n]! * window[n]!;
    transform.realTransform(output, input);
    const power = new Float32Array(half);
    for (let bin = 0; bin < half; bin++) power[bin] = output[2 * bin]! ** 2 + output[2 * bin + 1]! ** 2;
    blocks.push(power);
  }
  const over = new Float32Array(blocks.length);
  const medians = new Float32Array(half);
  for (let bin = 0; bin < half; bin++) {
    for (let k = 0; k < blocks.length; k++) over[k] = blocks[k]![bin]!;
    medians[bin] = selectRank(over, over.length, over.length >> 1);
  }
  const steady = new Set<number>();
  for (let bin = 1; bin < half - 1; bin++) {
    // Most bins are told from a line by a few neighbours alone.
    if (medians[bin]! < medians[bin - 1]! || medians[bin]! < medians[bin + 1]!) continue;
    const beside = Math.min(medians[Math.max(1, bin - 6)]!, medians[Math.min(half - 1, bin + 6)]!);
    if (medians[bin]! < 2 * beside) continue;
    const around = medians.slice(Math.max(1, bin - NEIGHBOURS), Math.min(half, bin + NEIGHBOURS + 1));
    if (medians[bin]! <= LEAST_EXCESS * selectRank(around, around.length, around.length >> 1)) continue;
    for (let k = Math.max(1, bin - SMEAR); k <= Math.min(half - 1, bin + SMEAR); k++) steady.add(k);
  }
  return [...steady];
}

function withoutBins(
  samples: Float32Array,
  transform: FFT,
  length: number,
  bins: readonly number[],
): Float32Array {
  const window = hannWindow(length);
  const hop = length / 2;
  const kept = new Float64Array(samples.length);
  const input = new Float64Array(length) as unknown as number[];
  const spectrum = new Float64Array(2 * length) as unknown as number[];
  const back = new Float64Array(2 * length) as unknown as number[];
  for (let from = -hop; from < samples.length; from += hop) {
    for (let n = 0; n < length; n++) {
      const at = from + n;
      input[n] = at >= 0 && at < samples.length ? samples[at]! * window[n]! : 0;
    }
    transform.realTransform(spectrum, input);
    for (const bin of bins) {
      spectrum[2 * bin] = 0;
      spectrum[2 * bin + 1] = 0;
    }
    transform.completeSpectrum(spectrum);
    transform.inverseTransform(back, spectrum);
    const end = Math.min(length, samples.length - from);
    for (let n = Math.max(0, -from); n < end; n++) kept[from + n]! += back[2 * n]!;
  }
  return Float32Array.from(kept);
}
