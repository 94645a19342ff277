import { InputError } from '../input-error.ts';

const wanted = 'text in UTF-8 (spreadsheet programs: save as CSV UTF-8)';
const NEWLINE = 0x0a;

/**
 * The text of a table's bytes, which are UTF-8. Read as another encoding, letters would turn into marks that are all
 * alike, and with them two bees into one.
 *
 * @throws InputError for another encoding: row, column and byte, counted from 1, where it shows
 */
export function tableText(file: string, bytes: Uint8Array): string {
  if (isUtf16(bytes)) throw new InputError({ file, found: 'text in UTF-16', wanted });
  try {
    return decoded(bytes);
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
    throw notUtf8(file, bytes);
  }
}

/** A table's bytes in lines of cells by commas, roughly: it is for a message. */
function notUtf8(file: string, bytes: Uint8Array): InputError {
  const at = firstFault(bytes);
  const from = at === 0 ? 0 : bytes.lastIndexOf(NEWLINE, at - 1) + 1;
  const to = bytes.indexOf(NEWLINE, at);
  const line = bytes.subarray(from, to < 0 ? undefined : to);
  const cellAt = cellsOf(bytes.subarray(from, at)).length - 1;
  const end = bytes.indexOf(NEWLINE);
  const column = cellsOf(bytes.subarray(0, end < 0 ? undefined : end))[cellAt];
  const row = bytes.subarray(0, from).reduce((rows, byte) => rows + (byte === NEWLINE ? 1 : 0), 1);
  const byte = bytes[at]!.toString(16).toUpperCase();
  return new InputError({
    file,
    place: `row ${row}${row === 1 || column === undefined ? '' : `, column ${column}`}, byte ${at + 1}`,
    found: `0x${byte}, which is no UTF-8 (in Windows-1252 or Latin-1 the cell is ${JSON.stringify(cellsOf(line)[cellAt])})`,
    wanted,
  });
}

const isUtf16 = ([first, second]: Uint8Array): boolean =>
  (first === 0xff && second === 0xfe) || (first === 0xfe && second === 0xff);

/** @throws TypeError for what is no UTF-8; @param more whether a letter may be cut at the end */
const decoded = (bytes: Uint8Array, more = false): string =>
  new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes, { stream: more });

/** Place of the first byte that is no UTF-8, from 0, by halving. */
function firstFault(bytes: Uint8Array): number {
  let [sound, faulty] = [0, bytes.length];
  while (faulty - sound > 1) {
    const middle = Math.floor((sound + faulty) / 2);
    try {
      decoded(bytes.subarray(0, middle), true);
      sound = middle;
    } catch {
      faulty = middle;
    }
  }
  // A letter shows to be none at the byte after it, or at its end.
  while (sound > 0 && bytes[sound - 1]! >= 0x80 && !isWhole(bytes.subarray(0, sound))) sound -= 1;
  return sound;
}

function isWhole(bytes: Uint8Array): boolean {
  try {
    decoded(bytes);
    return true;
  } catch {
    return false;
  }
}

const cellsOf = (line: Uint8Array): string[] =>
  new TextDecoder('windows-1252').decode(line).trim().replace(/^ï»¿/, '').split(',');
