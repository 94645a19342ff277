import { oneLine } from '../input-error.ts';

/** Told what is being worked on, the share done, 0 to 1, and, where it is sound, how much of it has been done in all, s. */
export type Progress = (what: string, share: number, soundS?: number) => void;

/** Does work that tells how far it is; the line is gone once the work is done or has failed. */
export async function withProgress<T>(work: (progress: Progress) => Promise<T>): Promise<T> {
  const progress = progressLine();
  try {
    return await work(progress);
  } finally {
    progress('', 1);
  }
}

/**
 * A line on stderr that says how far the work is; nothing where stderr is no terminal or the work is short. A share of 1 clears it.
 */
export function progressLine(): Progress {
  if (!process.stderr.isTTY) return () => {};
  const started = Date.now();
  let shown = false;
  return (what, share, soundS) => {
    const elapsedS = (Date.now() - started) / 1000;
    if (share >= 1) {
      if (shown) process.stderr.write('\r\x1b[K');
      shown = false;
      return;
    }
    if (elapsedS < 1 || share <= 0) return;
    process.stderr.write(`\r\x1b[K${oneLine(what)}: ${progressText(share, elapsedS, soundS)}`);
    shown = true;
  };
}

/** Such as `41 %, 950 times real time, about 3 min left`. */
export function progressText(share: number, elapsedS: number, soundS?: number): string {
  const rate = soundS === undefined ? '' : `${Math.round(soundS / elapsedS)} times real time, `;
  return `${Math.floor(100 * share)} %, ${rate}about ${waitText((elapsedS * (1 - share)) / share)} left`;
}

function waitText(seconds: number): string {
  if (seconds < 100) return `${Math.round(seconds)} s`;
  if (seconds < 6000) return `${Math.round(seconds / 60)} min`;
  return `${(seconds / 3600).toFixed(1)} h`;
}
