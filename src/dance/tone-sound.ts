import { greatest, range } from 'd3-array';
import type { Tone } from './find-calls.ts';
import { risePerS } from './tone-measures.ts';

/** How fast a call's level may change between its ends, and its carrier about its measured glide, Hz. */
const BANDWIDTH_HZ = 20;
/** How far from where they were measured its onset and its end are looked for, s; a loud call dies away slowly. */
const EARLIER_S = 0.03;
const LATER_S = 0.05;
const LEAST_LENGTH_S = 0.03;
/** Where a tone's onset and end mostly are, from where they were measured, s. */
const USUAL_ONSET_S = -0.008;
const USUAL_END_S = 0.016;
/** How long its level may take to rise and to fall, s. */
const RISES_S = [0.001, 0.006, 0.012];
const FALLS_S = [0.003, 0.012, 0.03, 0.06];
/** Onset and end are looked for coarsely, then finely: how far about what was found before, and in what steps, s. */
const SEARCHES = [
  { endReachS: 0.04, endStepS: 0.008, onsetReachS: 0.015, onsetStepS: 0.003 },
  { endReachS: 0.008, endStepS: 0.004, onsetReachS: 0.003, onsetStepS: 0.001 },
];
/** They are looked for in means over this, s: what changes faster is no call. */
const MEAN_S = 0.002;
/** Noise that a term of the sum takes up, times this, is what a term must earn. */
const TERM_COST = 3;

/** The sound of a tone alone. */
export interface ToneSound {
  /** Sample of the segment that the first of `samples` stands at. */
  readonly from: number;
  readonly samples: Float32Array;
}

/** Onset and end, and how long the level takes to rise and to fall there, s. */
interface Extent {
  readonly onsetS: number;
  readonly endS: number;
  readonly riseS: number;
  readonly fallS: number;
}

/**
 * The sound of a tone: brought down to 0 Hz along its glide, its amplitude and phase are a sum of cosines up to 20 Hz
 * over its length, under a level that rises and falls at its ends (least squares), with those ends that explain most.
 *
 * @param noisePower mean noise power at its carrier, unit of `powerInWindow`
 */
export function toneSound(
  samples: Float32Array,
  sampleRateHz: number,
  tone: Tone,
  noisePower: number,
): ToneSound {
  const first = Math.max(0, Math.round((tone.startS - EARLIER_S) * sampleRateHz));
  const last = Math.min(samples.length, Math.round((tone.endS + LATER_S) * sampleRateHz));
  const fine = broughtDown(samples, sampleRateHz, tone, first, last);
  const extent = extentOf(meansOf(fine, Math.max(1, Math.round(MEAN_S * sampleRateHz))), tone, noisePower);
  const fit: Fit = { re: new Float64Array(last - first), im: new Float64Array(last - first) };
  project(fine, extent, fit);
  const from = Math.max(0, Math.ceil((extent.onsetS - fine.fromS) * sampleRateHz));
  const to = Math.min(last - first, Math.ceil((extent.endS - fine.fromS) * sampleRateHz));
  // A real sound is half above and half below 0 Hz.
  const sound = Float32Array.from({ length: Math.max(0, to - from) }, (_, n) => {
    const phase = phaseOf(tone, (first + from + n) / sampleRateHz);
    return 2 * (fit.re[from + n]! * Math.cos(phase) - fit.im[from + n]! * Math.sin(phase));
  });
  return { from: first + from, samples: sound };
}

/** Complex values about 0 Hz, `stepS` apart from `fromS` on. */
interface BroughtDown {
  readonly re: Float64Array;
  readonly im: Float64Array;
  readonly fromS: number;
  readonly stepS: number;
}

type Fit = Pick<BroughtDown, 're' | 'im'>;

/** Phase of the tone's measured glide at a time. */
function phaseOf(tone: Tone, timeS: number): number {
  const sinceS = timeS - (tone.startS + tone.endS) / 2;
  return 2 * Math.PI * sinceS * (tone.carrierHz + 0.5 * risePerS(tone) * sinceS);
}

function broughtDown(
  samples: Float32Array,
  sampleRateHz: number,
  tone: Tone,
  first: number,
  last: number,
): BroughtDown {
  const re = new Float64Array(last - first);
  const im = new Float64Array(last - first);
  for (let n = 0; n < re.length; n++) {
    const phase = phaseOf(tone, (first + n) / sampleRateHz);
    re[n] = samples[first + n]! * Math.cos(phase);
    im[n] = -samples[first + n]! * Math.sin(phase);
  }
  return { re, im, fromS: first / sampleRateHz, stepS: 1 / sampleRateHz };
}

/** Sums over `count` values each, over √count: noise has the same variance as before. */
function meansOf({ re, im, fromS, stepS }: BroughtDown, count: number): BroughtDown {
  const length = Math.floor(re.length / count);
  const sums = (values: Float64Array) =>
    Float64Array.from({ length }, (_, k) => {
      let sum = 0;
      for (let n = k * count; n < (k + 1) * count; n++) sum += values[n]!;
      return sum / Math.sqrt(count);
    });
  return { re: sums(re), im: sums(im), fromS: fromS + 0.5 * (count - 1) * stepS, stepS: count * stepS };
}

function extentOf(down: BroughtDown, tone: Tone, noisePower: number): Extent {
  const latestS = down.fromS + down.re.length * down.stepS;
  const worth = (extent: Extent) => project(down, extent) - TERM_COST * noisePower * termsOf(extent);
  let extent: Extent = {
    onsetS: Math.max(down.fromS, tone.startS + USUAL_ONSET_S),
    endS: Math.min(latestS, tone.endS + USUAL_END_S),
    riseS: RISES_S[1]!,
    fallS: FALLS_S[1]!,
  };
  for (const { endReachS, endStepS, onsetReachS, onsetStepS } of SEARCHES) {
    const ends = around(extent.endS, endReachS, endStepS).filter(
      (endS) => endS - extent.onsetS >= LEAST_LENGTH_S && endS <= latestS,
    );
    const { onsetS } = extent;
    extent =
      greatest(
        ends.flatMap((endS) => FALLS_S.map((fallS) => ({ ...extent, onsetS, endS, fallS }))),
        worth,
      ) ?? extent;
    const { endS } = extent;
    const onsets = around(onsetS, onsetReachS, onsetStepS).filter(
      (at) => endS - at >= LEAST_LENGTH_S && at >= down.fromS,
    );
    extent =
      greatest(
        onsets.flatMap((at) => RISES_S.map((riseS) => ({ ...extent, onsetS: at, riseS }))),
        worth,
      ) ?? extent;
  }
  return extent;
}

const around = (middleS: number, reachS: number, stepS: number): number[] =>
  range(-Math.round(reachS / stepS), Math.round(reachS / stepS) + 1).map((k) => middleS + k * stepS);

const termsOf = ({ onsetS, endS }: Extent): number => 1 + Math.ceil(2 * BANDWIDTH_HZ * (endS - onsetS));

/**
 * Least squares with the cosines under the level, made orthogonal one after the other (modified Gram-Schmidt).
 *
 * @param fit where given, what fits is put here
 * @returns energy explained; white noise gives a term about its mean power
 */
function project(down: BroughtDown, extent: Extent, fit?: Fit): number {
  const first = Math.max(0, Math.ceil((extent.onsetS - down.fromS) / down.stepS));
  const last = Math.min(down.re.length, Math.ceil((extent.endS - down.fromS) / down.stepS));
  const length = last - first;
  if (length <= 0) return 0;
  const level = levelOf(down, extent, first, length);
  const basis: Float64Array[] = [];
  let energy = 0;
  for (let k = 0; k < termsOf(extent); k++) {
    const term = termOf(down, extent, first, level, k);
    for (const other of basis) {
      const shared = dot(term, other, 0);
      for (let n = 0; n < length; n++) term[n]! -= shared * other[n]!;
    }
    const size = Math.sqrt(dot(term, term, 0));
    if (size < 1e-6) break;
    for (let n = 0; n < length; n++) term[n]! /= size;
    basis.push(term);
    const re = dot(term, down.re, first);
    const im = dot(term, down.im, first);
    energy += 2 * (re * re + im * im);
    if (fit === undefined) continue;
    for (let n = 0; n < length; n++) {
      fit.re[first + n]! += re * term[n]!;
      fit.im[first + n]! += im * term[n]!;
    }
  }
  return energy;
}

/** The level at each value, in 0 to 1: 1 but for its rise and its fall. */
function levelOf(
  { fromS, stepS }: BroughtDown,
  { onsetS, endS, riseS, fallS }: Extent,
  first: number,
  length: number,
): Float64Array {
  const ramp = (sinceS: number, overS: number) =>
    sinceS < overS ? Math.sin((0.5 * Math.PI * sinceS) / overS) ** 2 : 1;
  const level = new Float64Array(length);
  for (let n = 0; n < length; n++) {
    const timeS = fromS + (first + n) * stepS;
    level[n] = ramp(timeS - onsetS, riseS) * ramp(endS - timeS, fallS);
  }
  return level;
}

/** cos(π k u) under the level, u from 0 at the onset to 1 at the end; the cosines by their recurrence. */
function termOf(
  { fromS, stepS }: BroughtDown,
  { onsetS, endS }: Extent,
  first: number,
  level: Float64Array,
  k: number,
): Float64Array {
  const turn = (Math.PI * k) / (endS - onsetS);
  const angle = turn * (fromS + first * stepS - onsetS);
  const twice = 2 * Math.cos(turn * stepS);
  let before = Math.cos(angle - turn * stepS);
  let here = Math.cos(angle);
  const term = new Float64Array(level.length);
  for (let n = 0; n < level.length; n++) {
    term[n] = level[n]! * here;
    const next = twice * here - before;
    before = here;
    here = next;
  }
  return term;
}

function dot(term: Float64Array, values: Float64Array, from: number): number {
  let sum = 0;
  for (let n = 0; n < term.length; n++) sum += term[n]! * values[from + n]!;
  return sum;
}
