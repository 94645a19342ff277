import type { Command } from 'commander';
import { InputError } from '../input-error.ts';

/** Lets a command of `combtone study` take its folder as every other command does, or as its first word. */
export function addStudyArgument(command: Command): Command {
  return command
    .argument('[folder]', 'the study')
    .option('--study <folder>', 'the study, as the other commands take it');
}

/**
 * The study folder of a call, whichever way it was given.
 *
 * @throws InputError when it was given twice, or not at all
 */
export function studyOf(argument: string | undefined, option: string | undefined): string {
  const given = [argument, option].filter((folder) => folder !== undefined);
  if (given.length === 1) return given[0]!;
  throw new InputError({
    file: '--study',
    found: given.join(' and ') || 'nothing',
    wanted: 'one study folder',
  });
}

/** The example that help of a command shows: its call, and what that does. */
export const exampleOf = (...lines: readonly string[]): string =>
  `\nExample:\n${lines.map((line) => `  ${line}\n`).join('')}`;
