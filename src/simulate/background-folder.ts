import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { InputError } from '../input-error.ts';

/**
 * The WAVE files of a folder, in the order of their names.
 *
 * @throws InputError when the folder cannot be read or holds none
 */
export async function backgroundFiles(folder: string): Promise<string[]> {
  let names: string[];
  try {
    names = await readdir(folder);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    const found = code === 'ENOENT' ? 'no such folder' : code === 'ENOTDIR' ? 'a file' : String(code);
    throw new InputError({ file: folder, found, wanted: 'a folder of WAVE files' });
  }
  const files = names.filter((name) => /\.wave?$/i.test(name)).sort();
  if (files.length === 0) {
    throw new InputError({ file: folder, found: 'no .wav file', wanted: 'a folder of WAVE files' });
  }
  return files.map((name) => join(folder, name));
}
