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
