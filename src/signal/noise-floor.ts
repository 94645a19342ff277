import { runningQuantiles } from './running-quantile.ts';
import type { SpectralFrames } from './spectral-frames.ts';

/** The mean power of the noise in each bin, known at evenly spaced times. */
export interface NoiseFloor {
  /** `level[anchor * binCount + bin]`, same unit as the frames' power; anchor a stands at frame a * spacing. */
  readonly level: Float32Array;
  readonly anchorCount: number;
  readonly spacingFrames: number;
  readonly binCount: number;
}

export const SPACING_S = 0.5;
const REACH_S = 2;
const SAMPLE_EVERY_S = 0.008; // frames nearer than this say the same thing twice
const QUANTILE = 0.3;

/**
 * A running noise floor for each frequency bin: the 30 % quantile of the power within ±2 s, scaled to the mean of the
 * exponential distribution that noise power follows in a bin (quantile q of an exponential is −mean · ln(1 − q)).
 * Sound that fills a share f of the time lifts it no further than noise's quantile 0.3 / (1 − f): 1.1 times at a
 * tenth, 6.5 times at two thirds. Frames of digital silence do not count.
 */
export function noiseFloor(frames: SpectralFrames, firstBin: number, lastBin: number): NoiseFloor {
  const { power, frameCount, binCount, hopS } = frames;
  const spacingFrames = Math.max(1, Math.round(SPACING_S / hopS));
  const step = Math.max(1, Math.round(SAMPLE_EVERY_S / hopS));
  // Frames that count are taken on one grid, so that those of neighbouring anchors are the same.
  const reach = Math.round(REACH_S / hopS / step) * step;
  const anchorCount = Math.floor((frameCount - 1) / spacingFrames) + 2;
  const level = new Float32Array(anchorCount * binCount);
  const width = lastBin - firstBin + 1;
  const windows = runningQuantiles(power, width, QUANTILE);
  const scale = -1 / Math.log(1 - QUANTILE);
  let low = 0; // frames of the grid in the window now: low up to, and without, high
  let high = 0;
  for (let anchor = 0; anchor < anchorCount; anchor++) {
    const centre = Math.min(anchor * spacingFrames, frameCount - 1);
    // At the ends of the stretch the window is moved inwards, not cut.
    const from = Math.max(0, Math.min(centre - reach, frameCount - 1 - 2 * reach));
    const to = Math.min(frameCount - 1, from + 2 * reach);
    for (; high <= to; high += step) windows.add(high * binCount + firstBin);
    for (; low < from; low += step) windows.remove(low * binCount + firstBin);
    const at = anchor * binCount + firstBin;
    for (let row = 0; row < width; row++) level[at + row] = windows.quantile(row) * scale;
  }
  return { level, anchorCount, spacingFrames, binCount };
}

/** What `overFloor` may be given beside frames and floor. */
export interface OverFloorOptions {
  /** Where to put the ratios; default: a new array. */
  readonly into?: Float32Array;
  /** A floor over which `into` holds the ratios already: only where the two differ are they worked out anew. */
  readonly knownOver?: NoiseFloor;
  /** Sees the ratios of frames worked out: `into` and its places from the first up to, and without, the second. */
  readonly look?: (ratio: Float32Array, from: number, to: number) => void;
}

/**
 * Power over the noise floor in bins `firstBin..lastBin`: noise alone gives an exponential distribution of
 * mean 1 in every bin. Where the floor is zero (silence), the result is 0.
 *
 * @returns `ratio[frame * width + bin − firstBin]`, width = lastBin − firstBin + 1
 */
export function overFloor(
  frames: SpectralFrames,
  floor: NoiseFloor,
  firstBin: number,
  lastBin: number,
  { into, knownOver, look }: OverFloorOptions = {},
): Float32Array {
  const { power, frameCount, binCount } = frames;
  const width = lastBin - firstBin + 1;
  const ratio = into ?? new Float32Array(frameCount * width);
  const { level, spacingFrames } = floor;
  const here = new Float64Array(width);
  const slope = new Float64Array(width);
  for (let anchor = 0; anchor * spacingFrames < frameCount; anchor++) {
    const at = anchor * binCount + firstBin;
    if (knownOver !== undefined && isSameAround(level, knownOver.level, at, width, binCount)) continue;
    const start = anchor * spacingFrames;
    const end = Math.min(frameCount, start + spacingFrames);
    for (let k = 0; k < width; k++) {
      const left = level[at + k]!;
      here[k] = left;
      slope[k] = (level[at + binCount + k]! - left) / spacingFrames;
    }
    for (let frame = start; frame < end; frame++) {
      divideFrame(ratio, frame * width, power, frame * binCount + firstBin, here, slope, frame - start);
    }
    look?.(ratio, start * width, end * width);
  }
  return ratio;
}

/** Whether two floors are the same in a row of bins at an anchor and the next. */
function isSameAround(
  a: Float32Array,
  b: Float32Array,
  at: number,
  width: number,
  binCount: number,
): boolean {
  for (let k = at; k < at + width; k++) {
    if (a[k] !== b[k] || a[k + binCount] !== b[k + binCount]) return false;
  }
  return true;
}

/** One frame's power over a floor that stood at `here` and has risen by `slope` for `passed` frames. */
function divideFrame(
  ratio: Float32Array,
  to: number,
  power: Float32Array,
  from: number,
  here: Float64Array,
  slope: Float64Array,
  passed: number,
): void {
  for (let k = 0; k < here.length; k++) {
    const noise = here[k]! + slope[k]! * passed;
    ratio[to + k] = noise > 0 ? power[from + k]! / noise : 0;
  }
}
