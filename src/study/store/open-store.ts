import { existsSync } from 'node:fs';
import Database from 'better-sqlite3';
import { InputError } from '../../input-error.ts';
import { migrations } from './migrations/index.ts';

export type Store = Database.Database;

export interface OpenStoreOptions {
  readonly readOnly?: boolean;
  /** Makes the file when it is not there. */
  readonly create?: boolean;
  /** For tests: the migrations known. */
  readonly known?: readonly string[];
}

/**
 * Opens study.sqlite and brings it up to date. A transaction that has been acknowledged is on disk (WAL,
 * synchronous = FULL); other processes may have the store open too.
 *
 * @throws InputError when there is no store, it is no store, or a newer combtone made it
 */
export function openStore(path: string, options: OpenStoreOptions = {}): Store {
  const { readOnly = false, create = false, known = migrations } = options;
  const wanted = 'the store of a study made by combtone study init';
  if (!create && !existsSync(path)) throw new InputError({ file: path, found: 'no such file', wanted });
  let store: Store | undefined;
  try {
    store = new Database(path, { readonly: readOnly, timeout: 5000 });
    store.pragma('foreign_keys = ON');
    if (!readOnly) {
      store.pragma('journal_mode = WAL');
      store.pragma('synchronous = FULL');
    }
    migrate(path, store, known, readOnly);
    return store;
  } catch (error) {
    store?.close();
    const { code } = error as { code?: string };
    if (code === 'SQLITE_NOTADB' || code === 'SQLITE_CORRUPT') {
      throw new InputError({ file: path, found: 'a file that is no store, or a damaged one', wanted });
    }
    if (code?.startsWith('SQLITE_CANTOPEN') || code?.startsWith('SQLITE_READONLY')) {
      throw new InputError({ file: path, found: 'a file that may not be opened', wanted });
    }
    throw error;
  }
}

function migrate(path: string, store: Store, known: readonly string[], readOnly: boolean): void {
  const versionNow = () => store.pragma('user_version', { simple: true }) as number;
  const refuse = (found: string, wanted: string) => new InputError({ file: path, found, wanted });
  if (versionNow() > known.length) {
    throw refuse(
      `a store of version ${versionNow()}, made by a newer combtone`,
      `version ${known.length} at most, or a newer combtone to open it`,
    );
  }
  if (versionNow() === known.length) return;
  if (readOnly) {
    throw refuse(
      `a store of version ${versionNow()}, made by an older combtone`,
      `version ${known.length}: open it once without --read-only, which brings it up to date`,
    );
  }
  // Another process may be doing the same: what is left to do is asked again under the lock.
  const bringUp = store.transaction(() => {
    for (let version = versionNow(); version < known.length; version++) {
      store.exec(known[version]!);
      store.pragma(`user_version = ${version + 1}`);
    }
  });
  bringUp.immediate();
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
