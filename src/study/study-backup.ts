import { existsSync } from 'node:fs';
import { copyFile, mkdir, rename, rm } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import { InputError, unwritable } from '../input-error.ts';
import { versionOf } from './store/migrate.ts';
import { openStore, type Store } from './store/open-store.ts';
import { ontoDisk, type TableCounts, tableCounts, verifyCopy } from './store/store-copy.ts';
import { fieldTables, settingsFile, storeFile } from './study-files.ts';
import { readSettings } from './study-folder.ts';

/** A copy of a study, verified. */
export interface StudyBackup {
  readonly folder: string;
  readonly files: readonly string[];
  /** Version of the store. */
  readonly version: number;
  /** Rows of each table of the store. */
  readonly counts: TableCounts;
}

/**
 * Copies a study, all but its recordings, into a folder that is a study itself. Others may go on reviewing: the copy
 * is of the moment at which it began. It gets its name once it is verified and on disk.
 *
 * @param onProgress told the share of the store copied
 * @throws InputError when there is no study, or something at `out` already; the store's errors
 */
export async function backupStudy(
  folder: string,
  out: string,
  onProgress: (share: number) => void = () => {},
): Promise<StudyBackup> {
  await readSettings(folder);
  const store = openStore(join(folder, storeFile), { readOnly: true, asItIs: true });
  try {
    refuseTaken(out);
    const made = await makeFolder(out);
    try {
      const version = versionOf(store);
      const counts = await copyStore(store, join(made, storeFile), onProgress);
      verifyCopy(join(made, storeFile), version, counts);
      // study.json last: a folder with it is a whole study.
      const names = [...fieldTables.filter((name) => existsSync(join(folder, name))), settingsFile];
      for (const name of names) await copyFile(join(folder, name), join(made, name));
      await readSettings(made);
      for (const name of [storeFile, ...names]) ontoDisk(join(made, name));
      ontoDisk(made);
      refuseTaken(out);
      await rename(made, out);
      ontoDisk(dirname(resolve(out)));
      return { folder: out, files: [storeFile, ...names], version, counts };
    } finally {
      await rm(made, { recursive: true, force: true });
    }
  } finally {
    store.close();
  }
}

function refuseTaken(out: string): void {
  if (!existsSync(out)) return;
  throw new InputError({ file: '--out', found: `${out}, which is there already`, wanted: 'a new folder' });
}

/** Beside where it will be, so that it can be renamed there. */
async function makeFolder(out: string): Promise<string> {
  const made = join(dirname(resolve(out)), `${basename(resolve(out))}.${process.pid}.tmp`);
  try {
    await mkdir(dirname(made), { recursive: true });
    await mkdir(made);
    return made;
  } catch (error) {
    const found = `${out}, which cannot be made (${(error as NodeJS.ErrnoException).code})`;
    throw unwritable('--out', error, { found, wanted: 'a place that may be written to' });
  }
}

/** @returns the rows of the store at the moment of the copy */
async function copyStore(
  store: Store,
  path: string,
  onProgress: (share: number) => void,
): Promise<TableCounts> {
  // Held open, it keeps the copy from starting again with every edit that others make meanwhile.
  store.exec('BEGIN');
  try {
    const counts = tableCounts(store);
    await store.backup(path, {
      progress: ({ totalPages, remainingPages }) => {
        onProgress(totalPages === 0 ? 1 : 1 - remainingPages / totalPages);
        return PAGES_AT_ONCE;
      },
    });
    return counts;
  } finally {
    store.exec('COMMIT');
  }
}

const PAGES_AT_ONCE = 2000;
