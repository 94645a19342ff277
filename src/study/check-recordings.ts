import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { fileSha256 } from './file-hash.ts';
import { allRecordings, type StoredRecording } from './store/recordings.ts';
import type { OpenStudy } from './study-folder.ts';
import { filesNearby } from './study-recordings.ts';

/** A recording's file against the bytes that were added. */
export interface CheckedRecording {
  readonly path: string;
  readonly state: 'sound' | 'moved' | 'missing' | 'other bytes' | 'unreadable';
  /** Of a moved one, where the same bytes are now. */
  readonly at: string | null;
}

/**
 * Reads every recording of a study through. One that is not where it was is looked for nearby, as detection does.
 * Changes nothing.
 *
 * @param onProgress told which recording is read, and the share of all bytes read
 */
export async function checkRecordings(
  study: OpenStudy,
  onProgress: (path: string, share: number) => void,
): Promise<CheckedRecording[]> {
  const recordings = allRecordings(study.store);
  const total = recordings.reduce((sum, { byteCount }) => sum + byteCount, 0);
  const checked: CheckedRecording[] = [];
  const nearby = finder(study);
  let read = 0;
  for (const recording of recordings) {
    const upTo = read + recording.byteCount;
    const state = await stateOf(study, recording, (count) => {
      read = Math.min(read + count, upTo);
      onProgress(recording.path, read / total);
    });
    read = upTo;
    const at = state === 'sound' ? null : await nearby(recording);
    checked.push({ path: recording.path, state: at === null ? state : 'moved', at });
  }
  return checked;
}

async function stateOf(
  { folder }: OpenStudy,
  { path, sha256, byteCount }: StoredRecording,
  onBytes: (count: number) => void,
): Promise<Exclude<CheckedRecording['state'], 'moved'>> {
  const file = join(folder, path);
  try {
    const status = await stat(file);
    if (!status.isFile()) return 'missing';
    const same = status.size === byteCount && (await fileSha256(file, onBytes)) === sha256;
    return same ? 'sound' : 'other bytes';
  } catch (error) {
    const { code, syscall } = error as NodeJS.ErrnoException;
    if (code === 'ENOENT' || code === 'ENOTDIR') return 'missing';
    if (syscall === undefined) throw error;
    return 'unreadable';
  }
}

/** Finds recordings nearby by their bytes; reads each file there once, and only those of a wanted length. */
function finder(study: OpenStudy): (recording: StoredRecording) => Promise<string | null> {
  let files: Promise<Map<number, string[]>> | null = null;
  const hashes = new Map<string, Promise<string | null>>();
  return async ({ sha256, byteCount }) => {
    files ??= filesBySize(study);
    for (const file of (await files).get(byteCount) ?? []) {
      const hash = hashes.get(file) ?? fileSha256(file).catch(() => null);
      hashes.set(file, hash);
      if ((await hash) === sha256) return file;
    }
    return null;
  };
}

async function filesBySize(study: OpenStudy): Promise<Map<number, string[]>> {
  const bySize = new Map<number, string[]>();
  for (const file of await filesNearby(study)) {
    const status = await stat(file).catch(() => null);
    if (status !== null) bySize.set(status.size, [...(bySize.get(status.size) ?? []), file]);
  }
  return bySize;
}
