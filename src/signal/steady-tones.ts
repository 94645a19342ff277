import { range } from 'd3-array';
import type FFT from 'fft.js';
import { meanOf, selectRank } from './quantile.ts';
import { asArray, hannWindow, transformOf } from './spectral-frames.ts';

/** Long enough to part a mains harmonic (a line) from a sound that bees make (never steady for seconds). */
const BLOCK_S = 4;
/** Median power of a line's bin over that of its neighbours. */
const LEAST_EXCESS = 8;
/** How many bins either side of a line a Hann window smears it over. */
const SMEAR = 3;
/** Neighbours that a line is told from, bins either side. */
const NEIGHBOURS = 24;
/** Parts of a block in which a line is to sound, each about a quarter of a second. */
const PARTS = 16;
/**
 * The share of parts, and of the mean power, that tell whether a line sounds through: noise alone has 0.16 of its mean
 * at this quantile, a steady tone most of it, and a dancer, silent between her runs, next to nothing.
 */
const QUIET_PART = 0.15;
const LEAST_QUIET_SHARE = 0.12;
/**
 * Where long sounds break off, noise fills the silences of a faint one, and a line no fainter in its quiet parts than
 * this, which hides no pulse, is left; between this and what is surely unbroken, a line that stops for a second or two
 * shows in that a part is as loud as the next.
 */
const FAINT_SHARE = 0.25;
const UNBROKEN_SHARE = 0.5;
const LARGEST_CORRELATION = 0.15;
/**
 * Under a dancer at its frequency a steady tone still stands so far over the sound beside it, 12 to 16 Hz away, in the
 * quietest parts.
 */
const QUIETEST_PART = 0.05;
const LEAST_QUIET_EXCESS = 20;
const BESIDE_BINS = [-4, -3, 3, 4].map((parts) => parts * PARTS);
/** Power beside a sharp line, in bins so far from it, over its own: two lines that beat are no less steady. */
const SKIRT = [3, 4, 5, 6];
const LARGEST_SKIRT = 0.002;

/**
 * Takes out tones that sound all along at one frequency, as mains hum, its harmonics and fans do: in spectra of
 * about 4 s, bins whose median over the stretch stands 8 times over the median of their neighbours are set to
 * zero, and the spectra turned back into sound (Hann windows that overlap by half add up to 1, so that all else
 * stays as it was). What is lost with a tone is a band of about 2 Hz. A sound that comes and goes within a block, as a
 * dancer does who keeps to one carrier, is no such tone. Nor is, in a band where long sounds are broken off and begun
 * again in one phase, what does so: a run may fill whole blocks. Stretches of under three blocks, and those without such
 * tones, come back as they are.
 *
 * Source: short-time Fourier analysis and synthesis by overlap-add, Allen & Rabiner 1977, Proc IEEE 65:1558
 * (from memory).
 *
 * @param brokenHz the band, from and to
 */
export function withoutSteadyTones(
  samples: Float32Array,
  sampleRateHz: number,
  brokenHz: readonly [number, number] = [0, Number.POSITIVE_INFINITY],
): Float32Array {
  const length = 2 ** Math.round(Math.log2(BLOCK_S * sampleRateHz));
  if (samples.length < 3 * length) return samples;
  const transform = transformOf(length);
  const mayBreak = (bin: number) => {
    const hz = (bin * sampleRateHz) / length;
    return hz >= brokenHz[0] && hz <= brokenHz[1];
  };
  const lines = steadyBins(samples, transform, length, mayBreak);
  return lines.length === 0 ? samples : withoutBins(samples, transform, length, lines);
}

/** Bins to be set to zero, from 1 up to half the length; empty where nothing is steady. */
function steadyBins(
  samples: Float32Array,
  transform: FFT,
  length: number,
  mayBreak: (bin: number) => boolean,
): number[] {
  const half = length / 2;
  const { medians, powers, blockCount } = blockPowers(samples, transform, length);
  const all = range(blockCount);
  const steady = new Set<number>();
  for (let bin = 1; bin < half - 1; bin++) {
    // Most bins are told from a line by a few neighbours alone.
    if (medians[bin]! < medians[bin - 1]! || medians[bin]! < medians[bin + 1]!) continue;
    const beside = Math.min(medians[Math.max(1, bin - 6)]!, medians[Math.min(half - 1, bin + 6)]!);
    if (medians[bin]! < 2 * beside) continue;
    const around = medians.slice(Math.max(1, bin - NEIGHBOURS), Math.min(half, bin + NEIGHBOURS + 1));
    if (medians[bin]! <= LEAST_EXCESS * selectRank(around, around.length, around.length >> 1)) continue;
    const isLoud = (block: number) => powers[bin * blockCount + block]! >= medians[bin]!;
    const isSteady =
      isSharp(medians, bin) ||
      (mayBreak(bin)
        ? soundsThrough(samples, length, bin, all, isUnbroken)
        : soundsThrough(samples, length, bin, all.filter(isLoud), soundsMostly));
    if (!isSteady) continue;
    for (let k = Math.max(1, bin - SMEAR); k <= Math.min(half - 1, bin + SMEAR); k++) steady.add(k);
  }
  return [...steady];
}

/** Whether next to nothing sounds beside a line, on one side at least: what comes and goes is broader. */
function isSharp(medians: Float32Array, bin: number): boolean {
  const beside = (side: 1 | -1) => meanOf(SKIRT.map((away) => medians[bin + side * away] ?? 0));
  return Math.min(beside(1), beside(-1)) < LARGEST_SKIRT * medians[bin]!;
}

/** Whether a line sounds in nearly all parts of some blocks of `length` samples, by their powers or under a dancer. */
function soundsThrough(
  samples: Float32Array,
  length: number,
  bin: number,
  blocks: readonly number[],
  byPowers: (powers: Float32Array) => boolean,
): boolean {
  const powers = partPowers(samples, length, bin, blocks);
  if (byPowers(powers)) return true;
  const quietest = (atBin: number) => quantileOf(partPowers(samples, length, atBin, blocks), QUIETEST_PART);
  const beside = meanOf(BESIDE_BINS.map((away) => quietest(bin + away)));
  return quantileOf(powers, QUIETEST_PART) >= LEAST_QUIET_EXCESS * beside;
}

const soundsMostly = (powers: Float32Array): boolean =>
  quantileOf(Float32Array.from(powers), QUIET_PART) >= LEAST_QUIET_SHARE * meanOf(powers);

/** The same for powers in order of time, of what may break off. */
function isUnbroken(powers: Float32Array): boolean {
  const quiet = quantileOf(Float32Array.from(powers), QUIET_PART) / meanOf(powers);
  return (
    quiet >= UNBROKEN_SHARE || (quiet >= FAINT_SHARE && neighbourCorrelation(powers) <= LARGEST_CORRELATION)
  );
}

/** Correlation of each value with the next. */
function neighbourCorrelation(values: Float32Array): number {
  const mean = meanOf(values);
  let products = 0;
  let squares = 0;
  for (let k = 0; k < values.length; k++) {
    const away = values[k]! - mean;
    squares += away * away;
    if (k > 0) products += away * (values[k - 1]! - mean);
  }
  return squares > 0 ? products / squares : 0;
}

const quantileOf = (values: Float32Array, share: number): number =>
  selectRank(values, values.length, Math.floor(share * values.length));

/** Power about a bin of spectra of `length` samples in each part of some of their blocks. */
function partPowers(
  samples: Float32Array,
  length: number,
  bin: number,
  blocks: readonly number[],
): Float32Array {
  const part = length / PARTS;
  const window = hannWindow(part);
  const turn = (2 * Math.PI * bin) / length;
  return Float32Array.from({ length: blocks.length * PARTS }, (_, k) =>
    linePower(samples, blocks[Math.floor(k / PARTS)]! * length + (k % PARTS) * part, turn, window),
  );
}

/** Power at one frequency, radians a sample, under a window from a sample on. */
function linePower(samples: Float32Array, from: number, turn: number, window: Float64Array): number {
  const stepRe = Math.cos(turn);
  const stepIm = -Math.sin(turn);
  let phaseRe = 1;
  let phaseIm = 0;
  let re = 0;
  let im = 0;
  for (let n = 0; n < window.length; n++) {
    const value = samples[from + n]! * window[n]!;
    re += value * phaseRe;
    im += value * phaseIm;
    const next = phaseRe * stepRe - phaseIm * stepIm;
    phaseIm = phaseRe * stepIm + phaseIm * stepRe;
    phaseRe = next;
  }
  return re * re + im * im;
}

/** The power in each bin up to half of `length` in blocks of so many samples, and its median over the blocks. */
function blockPowers(
  samples: Float32Array,
  transform: FFT,
  length: number,
): { medians: Float32Array; powers: Float32Array; blockCount: number } {
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
  return { medians, powers, blockCount };
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
