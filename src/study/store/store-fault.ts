/**
 * What kept the store from being read or written, and the way on, in words; null for an error that is not the
 * store's. A transaction is written whole or not at all: what was acknowledged before stays.
 */
export function storeFault(error: unknown): string | null {
  const { code, message } = (error ?? {}) as { readonly code?: unknown; readonly message?: string };
  if (typeof code !== 'string' || !code.startsWith('SQLITE_')) return null;
  const words = faults.find(([start]) => code.startsWith(start))?.[1];
  return words === undefined
    ? `the study's store failed (${code}: ${message})`
    : words(`${code}: ${message}`);
}

const kept = 'what was kept before stays, this was not written';

const faults: readonly (readonly [code: string, words: (said: string) => string])[] = [
  [
    'SQLITE_BUSY',
    () => `the study is in use by another process; ${kept}: do it again when that process is done`,
  ],
  ['SQLITE_FULL', () => `the disk is full; ${kept}: make room and do it again`],
  [
    'SQLITE_IOERR',
    (said) => `the disk could not be read or written (${said}); ${kept}: look after the disk, do it again`,
  ],
  [
    'SQLITE_READONLY',
    () =>
      `the study may not be written to; ${kept}: let it be written to, or copy its folder to where it may`,
  ],
  ['SQLITE_CANTOPEN', () => 'the study, or its folder, may not be opened: let it be read and written'],
  ['SQLITE_CORRUPT', damaged],
  ['SQLITE_NOTADB', damaged],
];

function damaged(said: string): string {
  return `study.sqlite is damaged (${said}): combtone study check tells where; put a backup in its place`;
}
