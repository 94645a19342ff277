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
