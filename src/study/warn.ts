import { oneLine } from '../input-error.ts';

const told = new Set<string>();

/** Says on stderr what is odd about the input but no error; once, however often the file is read. */
export function warnOnce(text: string): void {
  if (told.has(text)) return;
  told.add(text);
  process.stderr.write(`combtone: warning: ${oneLine(text)}\n`);
}
