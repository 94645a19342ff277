import type Database from 'better-sqlite3';
import { InputError } from '../../input-error.ts';
import { copyBefore, tableNames } from './store-copy.ts';

/** Which version of the store’s tables a file has; 0 for a new one. */
export function versionOf(store: Database.Database): number {
  return store.pragma('user_version', { simple: true }) as number;
}

/** @throws InputError when a newer combtone made the store */
export function refuseNewer(path: string, store: Database.Database, newest: number): void {
  const version = versionOf(store);
  if (version <= newest) return;
  throw new InputError({
    file: path,
    found: `a store of version ${version}, made by a newer combtone`,
    wanted: `version ${newest} at most, or a newer combtone to open it`,
  });
}

/**
 * Brings a store up to the newest version, all steps or none. Before the first of them a store that holds anything
 * is copied beside itself, and the copy verified; without a copy nothing is changed.
 *
 * @param known all migrations, in order
 * @throws InputError when a newer combtone made the store; the store's errors
 */
export function bringUpToDate(path: string, store: Database.Database, known: readonly string[]): void {
  refuseNewer(path, store, known.length);
  if (versionOf(store) === known.length) return;
  // Another process may be doing the same: what is left to do is asked again under the lock.
  const bringUp = store.transaction(() => {
    refuseNewer(path, store, known.length);
    const from = versionOf(store);
    if (from < known.length && tableNames(store).length > 0) {
      copyBefore(path, `version-${known.length}`);
    }
    for (let version = from; version < known.length; version++) {
      store.exec(known[version]!);
      store.pragma(`user_version = ${version + 1}`);
    }
  });
  bringUp.immediate();
}
