import { closeSync, openSync, readSync } from 'node:fs';
import { stat } from 'node:fs/promises';
import { fileSha256 } from './file-hash.ts';

/**
 * Files that hold the same bytes as one before them. Recorders make many files of one length: of these only such are
 * read to their end as are alike wherever they are looked at first.
 *
 * @returns for each such file the first that holds its bytes; files that cannot be read are left to whoever opens them
 */
export async function sameContent(paths: readonly string[]): Promise<ReadonlyMap<string, string>> {
  const bySize = new Map<number, string[]>();
  for (const path of paths) {
    const status = await stat(path).catch(() => null);
    if (!status?.isFile()) continue;
    bySize.set(status.size, [...(bySize.get(status.size) ?? []), path]);
  }
  const twins = new Map<string, string>();
  for (const [size, ofSize] of bySize) {
    const firstByHash = new Map<string, string>();
    for (const path of alikeOf(ofSize, size)) {
      const hash = await fileSha256(path).catch(() => null);
      if (hash === null) continue;
      const first = firstByHash.get(hash);
      if (first === undefined) firstByHash.set(hash, path);
      else twins.set(path, first);
    }
  }
  return twins;
}

/** Files of one size, less those that no other is like where they are looked at. */
function alikeOf(paths: readonly string[], size: number): string[] {
  if (paths.length < 2) return [];
  const looks: (string | null)[] = [];
  const counts = new Map<string, number>();
  for (const path of paths) {
    const look = lookIfReadable(path, size);
    looks.push(look);
    if (look !== null) counts.set(look, (counts.get(look) ?? 0) + 1);
  }
  return paths.filter((_, k) => counts.get(looks[k] ?? '')! > 1);
}

function lookIfReadable(path: string, size: number): string | null {
  try {
    return lookAt(path, size);
  } catch {
    return null;
  }
}

/** Headers may be the same, and sound may be silent at its ends: so many places, evenly over the file. */
const PLACES = 16;
const PLACE_BYTES = 64;

/** Some bytes of a file as text. So little is read that none of it is worth waiting for apart. */
function lookAt(path: string, size: number): string {
  const file = openSync(path, 'r');
  try {
    const bytes = Buffer.alloc(PLACES * PLACE_BYTES);
    for (let k = 0; k < PLACES; k++) {
      const at = Math.floor((k / (PLACES - 1)) * Math.max(0, size - PLACE_BYTES));
      readSync(file, bytes, k * PLACE_BYTES, PLACE_BYTES, at);
    }
    return bytes.toString('latin1');
  } finally {
    closeSync(file);
  }
}
