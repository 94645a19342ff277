import { existsSync, readFileSync, statSync } from 'node:fs';
import Database from 'better-sqlite3';
import { InputError } from '../../input-error.ts';
import { bringUpToDate, refuseNewer, versionOf } from './migrate.ts';
import { migrations } from './migrations/index.ts';
import { tableCounts, tableNames } from './store-copy.ts';

export type Store = Database.Database;

export interface OpenStoreOptions {
  readonly readOnly?: boolean;
  /** For reading only: an older store is read as it is instead of being refused. */
  readonly asItIs?: boolean;
  /** Makes the file when it is not there. */
  readonly create?: boolean;
  /** For tests: the migrations known. */
  readonly known?: readonly string[];
}

const BUSY_MS = 5000;
/** Node reads no longer file at once. */
const MOST_IN_MEMORY = 2 ** 31;

/**
 * Opens study.sqlite and brings it up to date, after a copy of it. A transaction that has been acknowledged is on
 * disk (WAL, synchronous = FULL); other processes may have the store open too.
 *
 * @throws InputError when there is no store, it is no store, or a newer combtone made it; the store's errors, which
 *   `storeFault` puts into words
 */
export function openStore(path: string, options: OpenStoreOptions = {}): Store {
  const { readOnly = false, asItIs = false, create = false, known = migrations } = options;
  if (!create && !existsSync(path)) throw refusal(path, 'no such file');
  let store: Store | undefined;
  try {
    if (readOnly) return openForReading(path, known, asItIs);
    store = new Database(path, { timeout: BUSY_MS });
    store.pragma('foreign_keys = ON');
    if (!create) refuseEmpty(path, store);
    store.pragma('journal_mode = WAL');
    store.pragma('synchronous = FULL');
    bringUpToDate(path, store, known);
    return store;
  } catch (error) {
    store?.close();
    const { code } = error as { code?: string };
    if (code?.startsWith('SQLITE_NOTADB') || code?.startsWith('SQLITE_CORRUPT')) {
      throw refusal(path, 'a file that is no store, or a damaged one');
    }
    if (/^(SQLITE_CANTOPEN|SQLITE_READONLY|EACCES|EPERM)/.test(code ?? '')) {
      throw new InputError({
        file: path,
        found: `a file that may not be ${readOnly ? 'opened' : 'written to'}`,
        wanted: readOnly
          ? 'one that may be read'
          : 'a folder and files that may be written to, or a copy that may',
      });
    }
    throw error;
  }
}

function refusal(file: string, found: string): InputError {
  return new InputError({ file, found, wanted: 'the store of a study made by combtone study init' });
}

/** Whether a file is a store in which nothing has been kept yet, such as one whose making was cut short. */
export function isUnused(path: string): boolean {
  let store: Store | undefined;
  try {
    store = new Database(path, { readonly: true, timeout: BUSY_MS });
    return Object.values(tableCounts(store)).every((count) => count === 0);
  } catch {
    return false;
  } finally {
    store?.close();
  }
}

/** A file that lost its content must not be taken for a study without any. */
function refuseEmpty(path: string, store: Store): void {
  if (tableNames(store).length === 0) throw refusal(path, 'an empty store');
}

function openForReading(path: string, known: readonly string[], asItIs: boolean): Store {
  const store = openWhereWritable(path) ?? openInMemory(path);
  try {
    refuseEmpty(path, store);
    refuseNewer(path, store, known.length);
    const version = versionOf(store);
    if (version < known.length && !asItIs) {
      throw new InputError({
        file: path,
        found: `a store of version ${version}, made by an older combtone`,
        wanted: `version ${known.length}: combtone study status brings it up to date, after a copy of it`,
      });
    }
    return store;
  } catch (error) {
    store.close();
    throw error;
  }
}

/** Even to be read, a store in WAL mode wants files beside it. @returns null where they cannot be made */
function openWhereWritable(path: string): Store | null {
  const store = new Database(path, { readonly: true, timeout: BUSY_MS });
  try {
    versionOf(store);
    return store;
  } catch (error) {
    store.close();
    if ((error as { code?: string }).code?.startsWith('SQLITE_CANTOPEN')) return null;
    throw error;
  }
}

/** The store of a disk that is never written to, such as an archive's. */
function openInMemory(path: string): Store {
  const refuse = (found: string) =>
    new InputError({ file: path, found, wanted: 'a copy of the whole folder where it may be written to' });
  const beside = `${path}-wal`;
  if (existsSync(beside) && statSync(beside).size > 0) {
    throw refuse('a store whose last writer was cut short, where nothing may be written');
  }
  if (statSync(path).size >= MOST_IN_MEMORY) {
    throw refuse('a store of 2 GiB or more, where nothing may be written');
  }
  const bytes = readFileSync(path);
  // Versions of the file format for writing and reading: 1, without WAL, for 2, with it.
  if (bytes[18] === 2 && bytes[19] === 2) bytes[18] = bytes[19] = 1;
  return new Database(bytes, { readonly: true });
}

const statements = new WeakMap<Store, Map<string, Database.Statement>>();

/** A statement made ready once for a store; for those asked thousands of times. */
export function prepared(store: Store, sql: string): Database.Statement {
  const known = statements.get(store) ?? new Map<string, Database.Statement>();
  statements.set(store, known);
  const statement = known.get(sql) ?? store.prepare(sql);
  known.set(sql, statement);
  return statement;
}
