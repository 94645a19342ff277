import { stat } from 'node:fs/promises';
import { basename } from 'node:path';
import { progressLine } from './progress.ts';

/** Tells on stderr how far the search of recordings is. */
export interface DetectProgress {
  /** @param index of the recording, from 0 */
  readonly searched: (index: number, searchedS: number, durationS: number) => void;
  /** Clears the line: whatever is printed next begins on one of its own. */
  readonly end: () => void;
}

/** Recordings count by their bytes, as their lengths are known only once they are opened. */
export async function detectProgress(paths: readonly string[]): Promise<DetectProgress> {
  const line = progressLine();
  const bytes = await Promise.all(
    paths.map((path) =>
      stat(path).then(
        ({ size }) => size,
        () => 0,
      ),
    ),
  );
  const allBytes = bytes.reduce((sum, size) => sum + size, 0);
  const shares = paths.map(() => 0);
  const searched = paths.map(() => 0);
  let soundS = 0;
  let doneBytes = 0;
  return {
    searched: (index, searchedS, durationS) => {
      const share = Math.min(1, searchedS / durationS);
      doneBytes += bytes[index]! * (share - shares[index]!);
      soundS += searchedS - searched[index]!;
      shares[index] = share;
      searched[index] = searchedS;
      // Never 1 before the end, which is told apart.
      line(basename(paths[index]!), Math.min(0.999, doneBytes / Math.max(1, allBytes)), soundS);
    },
    end: () => line('', 1),
  };
}
