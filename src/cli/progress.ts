import { oneLine } from '../input-error.ts';

/**
 * A line on stderr that says how far the work is; nothing where stderr is no terminal or the work is short.
 *
 * @returns to be called with what is being worked on and the share done, 0 to 1
 */
export function progressLine(): (what: string, share: number) => void {
  if (!process.stderr.isTTY) return () => {};
  const started = Date.now();
  let shown = false;
  return (what, share) => {
    const elapsedS = (Date.now() - started) / 1000;
    if (share >= 1) {
      if (shown) process.stderr.write('\r\x1b[K');
      shown = false;
      return;
    }
    if (elapsedS < 1 || share <= 0) return;
    const leftS = Math.round((elapsedS * (1 - share)) / share);
    process.stderr.write(`\r\x1b[K${oneLine(what)}: ${Math.floor(100 * share)} %, about ${leftS} s left`);
    shown = true;
  };
}
