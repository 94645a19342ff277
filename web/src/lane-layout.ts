import type { WindowSound } from '../../src/study/study-schemas.ts';

export interface Placed {
  readonly sound: WindowSound;
  /** Row of the lane, from 0: sounds at one time lie in rows of their own. */
  readonly row: number;
}

/**
 * Sounds of a lane in rows such that none lie over each other; each in the first row that is free.
 *
 * @param gapS free time between two sounds of a row
 */
export function inRows(sounds: readonly WindowSound[], gapS: number): { placed: Placed[]; rows: number } {
  const ends: number[] = [];
  const placed = [...sounds]
    .sort((a, b) => a.startS - b.startS || a.endS - b.endS)
    .map((sound) => {
      const free = ends.findIndex((end) => end + gapS <= sound.startS);
      const row = free < 0 ? ends.length : free;
      ends[row] = sound.endS;
      return { sound, row };
    });
  return { placed, rows: Math.max(1, ends.length) };
}

/** Where the name of a short sound stands: at which side of its bar, and whether nothing else is in its way. */
export interface Beside {
  readonly side: 'left' | 'right';
  readonly free: boolean;
}

/** What `quacking`, the longest of the kinds, is wide beside its bar, px. */
const KIND_PX = 59;
/** On a wide screen names stand no closer than this share of the window. */
const LEAST_SHARE = 0.08;

/** Room that a call's kind takes, as a share of a lane so many px wide. @param widthPx 0 while it is not known */
export function kindShare(widthPx: number): number {
  return widthPx === 0 ? LEAST_SHARE : Math.max(LEAST_SHARE, KIND_PX / widthPx);
}

interface Window {
  readonly fromS: number;
  readonly spanS: number;
}

/**
 * Sides for the names of sounds whose bars are too short to hold them: the right where there is room to the next bar
 * or the window's end, else the left, else the side that is not cut off.
 *
 * @param placed sounds of a lane, by start
 * @param needS room that a name takes, as time
 * @returns by id; sounds that are long enough are not in it
 */
export function namesBeside(
  placed: readonly Placed[],
  { fromS, spanS }: Window,
  needS: number,
): ReadonlyMap<string, Beside> {
  const beside = new Map<string, Beside>();
  const takenToS = new Map<number, number>();
  for (const [k, { sound, row }] of placed.entries()) {
    const { id, startS, endS } = sound;
    const before = Math.max(fromS, takenToS.get(row) ?? fromS);
    takenToS.set(row, endS);
    if (endS - startS > needS) continue;
    const next = placed.slice(k + 1).find((one) => one.row === row)?.sound.startS ?? Number.POSITIVE_INFINITY;
    const roomRight = Math.min(next, fromS + spanS) - endS;
    if (roomRight >= needS) {
      beside.set(id, { side: 'right', free: true });
      takenToS.set(row, endS + needS);
    } else if (startS - before >= needS) beside.set(id, { side: 'left', free: true });
    else beside.set(id, { side: endS + needS <= fromS + spanS ? 'right' : 'left', free: false });
  }
  return beside;
}
