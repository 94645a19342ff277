import { CommanderError } from 'commander';
import { diskFault, InputError, oneLine } from '../input-error.ts';
import { storeFault } from '../study/store/store-fault.ts';

/**
 * Prints what was wrong with some of the things worked on, one line each, and gives the exit code: 0 where nothing
 * was, 1 where some work failed, 2 where it is the input alone that is wrong.
 */
export function tellFailures(failures: readonly Error[]): number {
  for (const { message } of failures) process.stderr.write(`combtone: ${oneLine(message)}\n`);
  if (failures.length === 0) return 0;
  return failures.every((failure) => failure instanceof InputError) ? 2 : 1;
}

/**
 * Prints what went wrong on stderr, in one line unless `debug`, and gives the exit code: 0 where help or the
 * version was asked for, 2 where the input or the call is wrong, 1 where the work failed. A disk that is full is a
 * failure of the work, whichever file it is that has no room: the same call does it once there is.
 */
export function reportFailure(error: unknown, debug: boolean): number {
  if (error instanceof CommanderError) {
    if (error.exitCode === 0) return 0;
    // What was meant stands on a line of its own there.
    const text = error.message.replace(/^error: /, 'combtone: ').replace(/\n(?=\(Did you mean )/, ' ');
    process.stderr.write(`${oneLine(text)}\n`);
    return 2;
  }
  const text =
    storeFault(error) ?? diskFault(error) ?? (error instanceof Error ? error.message : String(error));
  process.stderr.write(`combtone: ${oneLine(text)}\n`);
  if (debug && error instanceof Error) process.stderr.write(`${error.stack}\n`);
  return error instanceof InputError ? 2 : 1;
}
