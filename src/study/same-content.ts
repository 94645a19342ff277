import { stat } from 'node:fs/promises';
import { fileSha256 } from './study-recordings.ts';

/**
 * Files that hold the same bytes as one before them. Only files of one length are read.
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
  for (const alike of bySize.values()) {
    if (alike.length < 2) continue;
    const firstByHash = new Map<string, string>();
    for (const path of alike) {
      const hash = await fileSha256(path).catch(() => null);
      if (hash === null) continue;
      const first = firstByHash.get(hash);
      if (first === undefined) firstByHash.set(hash, path);
      else twins.set(path, first);
    }
  }
  return twins;
}
