import type FFT from 'fft.js';
import { selectRank } from './quantile.ts';
import { asArray, hannWindow, transformOf } from './spectral-frames.ts';

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
  const transform = transformOf(length);
  const lines = steadyBins(samples, transform, length);
  return lines.length === 0 ? samples : withoutBins(samples, transform, length, lines);
}

/** Bins to be set to zero, from 1 up to half the length; empty where nothing is steady. */
function steadyBins(samples: Float32Array, transform: FFT, length: number): number[] {
  const half = length / 2;
  const medians = medianPowers(samples, transform, length);
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

/** The median over blocks of `length` samples of the power in each bin up to half of it. */
function medianPowers(samples: Float32Array, transform: FFT, length: number): Float32Array {
  const window = hannWindow(length);
  const half = length / 2;
  const blockCount = Math.floor(samples.length / length);
  const input = new Float64Array(length);
  const output = new Float64Array(2 * length);
  const powers = new Float32Array(half * blockCount); // those of a bin side by side
  for (let block = 0; block < blockCount; block++) {
    const from = block * length;
    for (let n = 0; n < length; n++) input[n] = samples[from + n]! * window[n]!;
    transform.realTransform(asArray(output), asArray(input));
    for (let bin = 0; bin < half; bin++) {
      const re = output[2 * bin]!;
      const im = output[2 * bin + 1]!;
      powers[bin * blockCount + block] = re * re + im * im;
    }
  }
  const medians = new Float32Array(half);
  const ofBin = new Float32Array(blockCount);
  for (let bin = 0; bin < half; bin++) {
    for (let k = 0; k < blockCount; k++) ofBin[k] = powers[bin * blockCount + k]!;
    medians[bin] = selectRank(ofBin, blockCount, blockCount >> 1);
  }
  return medians;
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
  const input = asArray(new Float64Array(length));
  const spectrum = asArray(new Float64Array(2 * length));
  const back = asArray(new Float64Array(2 * length));
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
