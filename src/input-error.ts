/** Where a piece of bad input stands, and what was found there instead of what is wanted. */
export interface BadInput {
  /** File the input came from, as the user named it; or the option or argument, such as `--level`. */
  readonly file: string;
  /** Row, column or other place inside the file, such as `row 12, column duration_s`. */
  readonly place?: string;
  readonly found: string;
  readonly wanted: string;
}

/**
 * The user's input or call is wrong. The message is one line that names the place, what was found and what
 * is wanted; commands print it without a stack trace and exit with 2.
 */
export class InputError extends Error {
  readonly badInput: BadInput;

  constructor(badInput: BadInput) {
    const where = badInput.place === undefined ? badInput.file : `${badInput.file}, ${badInput.place}`;
    super(
      `${oneLine(where)}: found ${shortened(oneLine(badInput.found))}; wanted ${oneLine(badInput.wanted)}`,
    );
    this.name = 'InputError';
    this.badInput = badInput;
  }
}

/** A disk without room, a share of it used up, a file that may grow no further, a disk that fails. */
const diskFaults: ReadonlyMap<unknown, string> = new Map([
  ['ENOSPC', 'the disk is full'],
  ['EDQUOT', 'the disk is full, or the share of it that this user may fill'],
  ['EFBIG', 'the disk is full, or lets no file grow so far'],
  ['EIO', 'the disk could not be read or written'],
]);

/** What a disk that is full or fails kept from being written, in words, with the way on; null for another error. */
export function diskFault(error: unknown): string | null {
  const fault = diskFaults.get((error as { readonly code?: unknown } | null)?.code);
  return fault === undefined ? null : `${fault}; this was not written: make room and do it again`;
}

/**
 * Why a file or folder could not be written. A place that is no place is the call's fault; a full disk is not: the
 * same call does the work once there is room.
 *
 * @param said what was found there and what is wanted, where it is the call's fault
 */
export function unwritable(
  file: string,
  error: unknown,
  said: Pick<BadInput, 'found' | 'wanted'> = {
    found: `a place that cannot be written (${whyNot(file, error)})`,
    wanted: 'a folder that exists and may be written to',
  },
): Error {
  const fault = diskFault(error);
  return fault === null ? new InputError({ file, ...said }) : new Error(`${oneLine(file)}: ${fault}`);
}

/** In words where it is one of the usual reasons; system messages name files that nobody asked for. */
function whyNot(file: string, error: unknown): string {
  const { code, message } = error as NodeJS.ErrnoException;
  const folder = /^(.*)[/\\]/s.exec(file)?.[1] ?? '.';
  if (code === 'ENOENT') return `there is no folder ${oneLine(folder)}`;
  if (code === 'ENOTDIR') return `${oneLine(folder)} is no folder`;
  if (code === 'EISDIR') return 'it is a folder';
  if (code === 'EACCES' || code === 'EPERM' || code === 'EROFS') return 'it may not be written to';
  return code ?? message;
}

// A cell may be a hundred million characters long; a message is read.
const MOST_SHOWN = 400;

function shortened(text: string): string {
  return text.length <= MOST_SHOWN ? text : `${text.slice(0, MOST_SHOWN)}… (${text.length} characters)`;
}

/**
 * Text that stays on one line and reads as it stands: control characters, line separators and marks that turn
 * the direction of writing, all of which a file name may hold, as escapes such as `\n` and `\u202e`. Letters of
 * every script stay as they are.
 */
export function oneLine(text: string): string {
  return text.replaceAll(
    /[\p{Cc}\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069\p{Cs}]/gu,
    (character) => {
      const short = shortEscapes.get(character);
      return short ?? `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`;
    },
  );
}

const shortEscapes: ReadonlyMap<string, string> = new Map([
  ['\n', '\\n'],
  ['\r', '\\r'],
  ['\t', '\\t'],
]);
