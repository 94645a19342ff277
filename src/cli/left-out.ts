import type { DanceLeftOut } from '../study/study-observations.ts';

/** Says on stderr which dances of a study were not taken, and why. */
export function tellLeftOut(leftOut: readonly DanceLeftOut[]): void {
  for (const { danceId, reason } of leftOut) {
    process.stderr.write(`combtone: warning: dance ${danceId} left out: ${reason}\n`);
  }
}
