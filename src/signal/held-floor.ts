import { type NoiseFloor, SPACING_S } from './noise-floor.ts';
import { selectRank } from './quantile.ts';

/** How a floor is held down, and in which bins. */
export interface Hold {
  readonly firstBin: number;
  readonly lastBin: number;
  readonly reachS: number;
  readonly factor: number;
}

/**
 * The same floor held down where a sound of several seconds lifts it: nowhere over `factor` times its own median
 * within `reachS` on either side, bin by bin.
 */
export function heldDown(floor: NoiseFloor, { firstBin, lastBin, reachS, factor }: Hold): NoiseFloor {
  const { level, anchorCount, binCount } = floor;
  const held = new Float32Array(level.length);
  const reach = Math.round(reachS / SPACING_S);
  const around = new Float32Array(2 * reach + 1);
  for (let bin = firstBin; bin <= lastBin; bin++) {
    for (let anchor = 0; anchor < anchorCount; anchor++) {
      const from = Math.max(0, Math.min(anchor - reach, anchorCount - 1 - 2 * reach));
      const count = Math.min(anchorCount, from + 2 * reach + 1) - from;
      takeColumn(around, count, level, from * binCount + bin, binCount);
      const here = level[anchor * binCount + bin]!;
      held[anchor * binCount + bin] = heldLevel(here, around, count, factor);
    }
  }
  return { ...floor, level: held };
}

function takeColumn(
  into: Float32Array,
  count: number,
  level: Float32Array,
  from: number,
  binCount: number,
): void {
  for (let k = 0; k < count; k++) into[k] = level[from + k * binCount]!;
}

/** A level, no higher than a factor times the median of the first `count` around it, which are reordered. */
function heldLevel(level: number, around: Float32Array, count: number, factor: number): number {
  const middle = (count - 1) >> 1;
  // Mostly it stands nowhere near, which counting tells sooner than the median does.
  if (countUnder(around, count, factor, level) <= middle) return level;
  return Math.min(level, factor * selectRank(around, count, middle));
}

/** How many of the first `count` values, times a factor, lie under a level. */
function countUnder(values: Float32Array, count: number, factor: number, level: number): number {
  let under = 0;
  for (let k = 0; k < count; k++) if (factor * values[k]! < level) under++;
  return under;
}

/**
 * The same floor held down where sound in some bins lifts them beside the rest, as a run of several seconds does: each
 * bin over what all do together (the median of their levels, each over its own median in the whole stretch) is held as
 * in `heldDown`. Where noise swells it does so in most of them, and the floor goes with it.
 */
export function heldToOthers(floor: NoiseFloor, hold: Hold): NoiseFloor {
  const { level, binCount } = floor;
  const together = togetherOf(floor, hold);
  const alone = level.map((value, at) => value / together[Math.floor(at / binCount)]!);
  const held = heldDown({ ...floor, level: alone }, hold).level;
  const heldAt = (at: number) => held[at]! * together[Math.floor(at / binCount)]!;
  return { ...floor, level: level.map((value, at) => (held[at] === alone[at] ? value : heldAt(at))) };
}

/** Digital silence has no level to divide by. */
const LEAST_LEVEL = 1e-30;

function togetherOf({ level, anchorCount, binCount }: NoiseFloor, { firstBin, lastBin }: Hold): Float32Array {
  const ofBin = new Float32Array(anchorCount);
  const usual = Float32Array.from({ length: lastBin - firstBin + 1 }, (_, k) => {
    takeColumn(ofBin, anchorCount, level, firstBin + k, binCount);
    return selectRank(ofBin, anchorCount, anchorCount >> 1) + LEAST_LEVEL;
  });
  return Float32Array.from({ length: anchorCount }, (_, anchor) => {
    const from = anchor * binCount + firstBin;
    const excess = usual.map((median, k) => level[from + k]! / median);
    return selectRank(excess, excess.length, excess.length >> 1) + LEAST_LEVEL;
  });
}
