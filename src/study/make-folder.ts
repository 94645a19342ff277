import { mkdirSync, statSync } from 'node:fs';
import { InputError, unwritable } from '../input-error.ts';

const wanted = 'a folder, or a place for one';

const reasons: Readonly<Record<string, string>> = {
  EEXIST: 'a file has that name',
  ENOTDIR: 'a file stands on the way to it',
  EACCES: 'you may not write there',
  EPERM: 'you may not write there',
  EROFS: 'the disk is read-only',
  ENAMETOOLONG: 'the name is too long',
};

/**
 * Makes a folder for outputs, with those on the way to it; one that is there is left as it is.
 *
 * @throws InputError, in words, where no folder can be made; of a full disk what `unwritable` makes of it
 */
export function makeFolder(folder: string): void {
  try {
    mkdirSync(folder, { recursive: true });
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code ?? 'no reason told';
    const found = `a place that cannot be made a folder (${reasons[code] ?? code})`;
    throw unwritable(folder, error, { found, wanted });
  }
  if (!statSync(folder).isDirectory()) throw new InputError({ file: folder, found: 'no folder', wanted });
}
