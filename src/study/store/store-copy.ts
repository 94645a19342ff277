import { closeSync, existsSync, fsyncSync, openSync, readSync, renameSync, rmSync, statSync } from 'node:fs';
import { dirname } from 'node:path';
import Database from 'better-sqlite3';

/** Tables of a store, by name. */
export function tableNames(store: Database.Database): string[] {
  return store
    .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name")
    .pluck()
    .all() as string[];
}

/** Rows of each table, by its name. */
export type TableCounts = Readonly<Record<string, number>>;

/** How many rows each table of a store has. */
export function tableCounts(store: Database.Database): TableCounts {
  const count = (name: string) =>
    store
      .prepare(`SELECT count(*) FROM "${name.replaceAll('"', '""')}"`)
      .pluck()
      .get() as number;
  return Object.fromEntries(tableNames(store).map((name) => [name, count(name)]));
}

/** A copy that does not hold what it was made of, or was made of a store that is damaged. */
export class CopyFault extends Error {}

const lookHere = 'it was not kept; combtone study check tells whether the store itself is sound';

/**
 * Reads a copy of a store through and holds it against what it was made of.
 *
 * @throws CopyFault when it is not whole
 */
export function verifyCopy(path: string, version: number, counts: TableCounts): void {
  const copy = new Database(path, { fileMustExist: true });
  try {
    const words = copy.pragma('integrity_check(1)', { simple: true });
    if (words !== 'ok') throw new CopyFault(`the copy of the store is not whole (${words}): ${lookHere}`);
    const found = JSON.stringify([copy.pragma('user_version', { simple: true }), tableCounts(copy)]);
    if (found !== JSON.stringify([version, counts])) {
      throw new CopyFault(`the copy of the store holds other rows than the store (${found}): ${lookHere}`);
    }
  } finally {
    copy.close();
  }
}

/**
 * Copies a store beside itself, as study.sqlite.before-version-2, before something is done to it. A copy of that
 * name with other bytes is kept, and this one numbered. To be called while the caller holds the lock for writing,
 * so that nothing is written between the copy and what follows.
 *
 * @param before what is about to be done, such as `version-2`
 * @returns path of the copy, which is verified and on disk
 * @throws CopyFault; the store's errors, such as for a full disk
 */
export function copyBefore(path: string, before: string): string {
  const wanted = `${path}.before-${before}`;
  // Nobody else makes one while the lock is held: what is there was cut short.
  const temporary = `${wanted}.tmp`;
  rmSync(temporary, { force: true });
  try {
    const source = new Database(path, { readonly: true });
    try {
      source.prepare('VACUUM INTO ?').run(temporary);
      verifyCopy(temporary, source.pragma('user_version', { simple: true }) as number, tableCounts(source));
    } finally {
      source.close();
    }
    // The same store is copied to the same bytes: such as when the migration after the copy was cut short.
    let copy = wanted;
    for (let number = 2; existsSync(copy); number++) {
      if (sameBytes(copy, temporary)) return copy;
      copy = `${wanted}-${number}`;
    }
    ontoDisk(temporary);
    renameSync(temporary, copy);
    ontoDisk(dirname(copy));
    return copy;
  } finally {
    rmSync(temporary, { force: true });
  }
}

/** Waits until a file's bytes, or a folder's names, are on disk. */
export function ontoDisk(path: string): void {
  // Windows opens no folders.
  if (process.platform === 'win32' && statSync(path).isDirectory()) return;
  const file = openSync(path, process.platform === 'win32' ? 'r+' : 'r');
  try {
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
}

function sameBytes(one: string, other: string): boolean {
  if (statSync(one).size !== statSync(other).size) return false;
  const files = [openSync(one, 'r'), openSync(other, 'r')] as const;
  const [a, b] = [Buffer.alloc(1 << 20), Buffer.alloc(1 << 20)];
  try {
    for (;;) {
      const [countA, countB] = [readSync(files[0], a), readSync(files[1], b)];
      if (countA !== countB || !a.subarray(0, countA).equals(b.subarray(0, countB))) return false;
      if (countA === 0) return true;
    }
  } finally {
    for (const file of files) closeSync(file);
  }
}
