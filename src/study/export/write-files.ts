import { closeSync, openSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { unwritable } from '../../input-error.ts';
import { makeFolder } from '../make-folder.ts';

/** A file to be: its path in the folder, forward slashes between, and its text, whole or in pieces. */
export type FileText = readonly [path: string, text: string | Iterable<string>];

/** So many characters are written at once. */
const BUFFERED = 2 ** 16;

/**
 * Writes text files into a folder, piece by piece: each under a temporary name, and when all are there, each gets its
 * own. Where one of them cannot be written, none is: the folder stays as it was.
 *
 * @param folder made where it is not there
 * @returns the paths written, in order
 * @throws InputError for a place that is no folder or cannot be written to; an Error for a full disk
 */
export function writeFiles(folder: string, files: Iterable<FileText>): string[] {
  makeFolder(folder);
  const written = new Map<string, string>();
  const folders = new Set([folder]);
  try {
    for (const [name, text] of files) {
      const path = join(folder, name);
      if (!folders.has(dirname(path))) makeFolder(dirname(path));
      folders.add(dirname(path));
      const temporary = `${path}.${process.pid}.tmp`;
      written.set(path, temporary);
      attempt(path, () => writePieces(temporary, typeof text === 'string' ? [text] : text));
    }
    for (const [path, temporary] of written) attempt(path, () => renameSync(temporary, path));
  } catch (error) {
    for (const temporary of written.values()) rmSync(temporary, { force: true });
    throw error;
  }
  return [...written.keys()];
}

/** What the text itself throws while it is made is no fault of the place. */
class MakingFailed extends Error {}

function attempt(path: string, act: () => void): void {
  try {
    act();
  } catch (error) {
    throw error instanceof MakingFailed ? error.cause : unwritable(path, error);
  }
}

function writePieces(path: string, pieces: Iterable<string>): void {
  const file = openSync(path, 'w');
  try {
    let waiting = '';
    for (const piece of made(pieces)) {
      waiting += piece;
      if (waiting.length < BUFFERED) continue;
      writeFileSync(file, waiting);
      waiting = '';
    }
    writeFileSync(file, waiting);
  } finally {
    closeSync(file);
  }
}

function* made(pieces: Iterable<string>): Generator<string> {
  try {
    yield* pieces;
  } catch (error) {
    throw new MakingFailed('', { cause: error });
  }
}
