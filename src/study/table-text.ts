import { InputError } from '../input-error.ts';

const wanted = 'text in UTF-8 (spreadsheet programs: save as CSV UTF-8)';

/**
 * The text of a table's bytes, which are UTF-8. Read as another encoding, letters would turn into marks that are all
 * alike, and with them two bees into one.
 *
 * @throws InputError for another encoding: row, column and byte, counted from 1, where it shows
 */
export function tableText(file: string, bytes: Uint8Array): string {
  if (isUtf16(bytes)) throw new InputError({ file, found: 'text in UTF-16', wanted });
  try {
    return decoderOf(true).decode(bytes);
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
    throw notUtf8(file, bytes);
  }
}

/** A table's bytes in lines of cells by commas, roughly: it is for a message. */
function notUtf8(file: string, bytes: Uint8Array): InputError {
  const at = firstFault(bytes);
  const before = linesOf(bytes.subarray(0, at));
  const cellAt = cellsOf(before.at(-1)!).length - 1;
  const column = before.length === 1 ? undefined : cellsOf(before[0]!)[cellAt];
  const cell = cellsOf(linesOf(bytes)[before.length - 1]!)[cellAt];
  const byte = bytes[at]!.toString(16).toUpperCase();
  return new InputError({
    file,
    place: `row ${before.length}${column === undefined ? '' : `, column ${column}`}, byte ${at + 1}`,
    found: `0x${byte}, which is no UTF-8 (in Windows-1252 or Latin-1 the cell is ${JSON.stringify(cell)})`,
    wanted,
  });
}

const isUtf16 = ([first, second]: Uint8Array): boolean =>
  (first === 0xff && second === 0xfe) || (first === 0xfe && second === 0xff);

const decoderOf = (fatal: boolean) => new TextDecoder('utf-8', { fatal, ignoreBOM: true });

/** What a decoder puts for what is none, and its bytes where it is meant. */
const MARK = '\uFFFD';
const MARK_BYTES = Buffer.from(MARK);

/** Place of the first byte that is no UTF-8, from 0: before it the text is the bytes. */
function firstFault(bytes: Uint8Array): number {
  let at = 0;
  for (const sound of decoderOf(false).decode(bytes).split(MARK)) {
    at += Buffer.byteLength(sound);
    if (!MARK_BYTES.equals(bytes.subarray(at, at + MARK_BYTES.length))) return at;
    at += MARK_BYTES.length;
  }
  return at;
}

const linesOf = (bytes: Uint8Array): string[] =>
  new TextDecoder('windows-1252').decode(bytes).replace(/^ï»¿/, '').split('\n');

const cellsOf = (line: string): string[] => line.trim().split(',');
