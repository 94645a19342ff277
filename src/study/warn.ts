import { oneLine } from '../input-error.ts';

/** Says on stderr, in one line, what is odd but no error. */
export function warn(text: string): void {
  process.stderr.write(`combtone: warning: ${oneLine(text)}\n`);
}

const told = new Set<string>();

/** The same once, however often a file is read. */
export function warnOnce(text: string): void {
  if (told.has(text)) return;
  told.add(text);
  warn(text);
}
