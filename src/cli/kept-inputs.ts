import { existsSync, realpathSync } from 'node:fs';
import { basename, dirname, join, resolve } from 'node:path';
import type { Command } from 'commander';
import { InputError } from '../input-error.ts';
import { settingsFile, studyFiles } from '../study/study-files.ts';

/** Options that name a file to be written; `--posteriors` is one of estimate and is read by map. */
const WRITTEN = ['out', 'neighbourhoods'];
const WRITTEN_BY: Record<string, readonly string[]> = { estimate: ['posteriors'] };

/**
 * A table of days in the field is not to be written over by what is made of it: no file that a call writes may be one
 * that it reads, or that it writes something else to, nor one that a study is kept in.
 *
 * @throws InputError for the first that is
 */
export function refuseOverwriting(command: Command): void {
  const named = pathsOf(command);
  for (const name of [...WRITTEN, ...(WRITTEN_BY[command.name()] ?? [])]) {
    const written = named.find((one) => one.name === `--${name}`);
    if (written === undefined) continue;
    if (isOfStudy(written.path)) {
      throw new InputError({
        file: written.name,
        found: `${written.given}, a file of a study`,
        wanted: 'a file of another name: what a study is kept in is never written over',
      });
    }
    const other = named.find((one) => one !== written && one.path === written.path);
    if (other === undefined) continue;
    throw new InputError({
      file: written.name,
      found: `${written.given}, given as ${other.name} too`,
      wanted: 'a file of another name: what is read is never written over',
    });
  }
}

/** Whether a path is one of the files that a study consists of. */
const isOfStudy = (path: string): boolean =>
  studyFiles.includes(basename(path)) && existsSync(join(dirname(path), settingsFile));

interface NamedPath {
  /** The option, or what the help calls the argument. */
  readonly name: string;
  readonly given: string;
  /** The file that is meant, by whatever way; a file not there yet is known by its name. */
  readonly path: string;
}

function pathsOf(command: Command): NamedPath[] {
  const named: NamedPath[] = [];
  const add = (name: string, given: unknown) => {
    if (typeof given === 'string') named.push({ name, given, path: realPath(given) });
    else if (Array.isArray(given)) for (const one of given) add(name, one);
  };
  for (const option of command.options) {
    // A name or a number may happen to be called as a file is.
    if (/<(file|folder|path)>/.test(option.flags))
      add(option.long!, command.getOptionValue(option.attributeName()));
  }
  command.processedArgs.forEach((value, k) => {
    add(command.registeredArguments[k]?.name() ?? 'argument', value);
  });
  return named;
}

function realPath(given: string): string {
  try {
    return realpathSync(given);
  } catch {
    return resolve(given);
  }
}
