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
    super(`${where}: found ${badInput.found}; wanted ${badInput.wanted}`.replaceAll(/\s*[\r\n]+\s*/g, ' '));
    this.name = 'InputError';
    this.badInput = badInput;
  }
}
