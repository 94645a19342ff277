import { readdir, realpath, stat } from 'node:fs/promises';
import { basename, dirname, extname, isAbsolute, join, relative, resolve, sep } from 'node:path';
import { InputError } from '../input-error.ts';
import { openRecording, type RecordingInfo } from '../recording/index.ts';
import { fileSha256 } from './file-hash.ts';
import { clockNotes } from './sessions.ts';
import {
  allRecordings,
  insertRecording,
  moveRecording,
  recordingByHash,
  type StoredRecording,
  startRecording,
} from './store/recordings.ts';
import type { OpenStudy } from './study-folder.ts';
import { isVouched, type SeenFile, vouchFor } from './vouched-files.ts';

export interface AddedRecording {
  readonly recording: StoredRecording;
  readonly outcome: 'added' | 'known' | 'moved';
  /** Start of a known recording before this gave it another, null where it had none; left out where it did not. */
  readonly startWas?: string | null;
}

/**
 * Adds a recording to a study. The same bytes are the same recording, whatever the file is called: one that the
 * study knows is only noted to be where it now is, if it is no longer where it was, and to start when this call says,
 * if neither the file nor its name does.
 *
 * @param startTime used when neither the file nor its name tells it
 * @throws InputError for a file that is no recording
 */
export async function addRecording(
  { folder, store, settings }: OpenStudy,
  path: string,
  startTime?: string,
): Promise<AddedRecording> {
  const opened = await openRecording(path, startTime === undefined ? {} : { startTime });
  const { info } = opened;
  await opened.close();
  const { size, mtimeMs } = await stat(path);
  const sha256 = await fileSha256(path);
  const now = await stat(path);
  if (now.size !== size || now.mtimeMs !== mtimeMs) {
    throw new InputError({
      file: path,
      found: `a file that is still being written (${size} bytes, then ${now.size})`,
      wanted: 'a finished recording: add it when its recorder is done with it',
    });
  }
  const place = relativePath(folder, path);
  await noteOutside(folder, { realPath: await realpath(path), byteCount: size, modifiedMs: mtimeMs, sha256 });
  const known = recordingByHash(store, sha256);
  if (known !== null) {
    const start = givenStart(known, info, settings.hive.timeZone);
    if (start !== null) startRecording(store, known.id, start);
    const was = start === null ? {} : { startWas: known.startTime };
    const now = { ...known, ...(start ?? { warnings: [...new Set([...known.warnings, ...info.warnings])] }) };
    if (known.path === place || (await isFile(join(folder, known.path)))) {
      return { recording: now, outcome: 'known', ...was };
    }
    moveRecording(store, known.id, place, mtimeMs);
    return { recording: { ...now, path: place, modifiedMs: mtimeMs }, outcome: 'moved', ...was };
  }
  const recording = insertRecording(store, {
    sha256,
    path: place,
    stem: basename(path, extname(path)),
    byteCount: size,
    modifiedMs: mtimeMs,
    sampleRateHz: info.sampleRateHz,
    channelCount: info.channelCount,
    durationS: info.durationS,
    startTime: info.startTime,
    warnings: [...info.warnings, ...clockNotes(info, settings.hive.timeZone)],
  });
  return { recording, outcome: 'added' };
}

const CORRECTED = 'start corrected from ';

/**
 * The start that this call gives to a known recording, with the notes that go with it, among them what was corrected;
 * null where it gives no other than it has.
 */
function givenStart(
  known: StoredRecording,
  info: RecordingInfo,
  zone: string | null,
): Pick<StoredRecording, 'startTime' | 'warnings'> | null {
  const { startTime, startTimeSource } = info;
  if (startTimeSource !== 'option' || startTime === known.startTime) return null;
  const before = known.warnings.filter((warning) => warning.startsWith(CORRECTED));
  const now = known.startTime === null ? [] : [`${CORRECTED}${known.startTime} to ${startTime}`];
  return { startTime, warnings: [...info.warnings, ...clockNotes(info, zone), ...before, ...now] };
}

/**
 * Where a recording's file is now: where it was last; else a file with the same bytes in the study folder or
 * beside another recording, which is then noted.
 *
 * A study may come from a stranger, who can write any path into it. So a file outside the study folder, be it by `..`
 * or by a link, is taken only when its bytes were read through on this machine and are those of the recording.
 *
 * @returns the path, or null when it is nowhere to be found
 */
export async function locateRecording(study: OpenStudy, recording: StoredRecording): Promise<string | null> {
  const path = join(study.folder, recording.path);
  const found = await seenFile(path, recording);
  if (found !== null) {
    const unchanged =
      found.modifiedMs === recording.modifiedMs && (await isWithin(study.folder, found.realPath));
    if (unchanged || (await isVouched(found))) return path;
    if (await holdsBytes(study, path, found)) return noted(study, recording, path, found.modifiedMs);
  }
  for (const candidate of await filesNearby(study)) {
    const status = candidate === path ? null : await seenFile(candidate, recording);
    if (status !== null && (await holdsBytes(study, candidate, status))) {
      return noted(study, recording, candidate, status.modifiedMs);
    }
  }
  return null;
}

/** A file as it is, if it may be the recording's: of the same length, with the bytes that it should have. */
async function seenFile(path: string, { byteCount, sha256 }: StoredRecording): Promise<SeenFile | null> {
  const status = await stat(path).catch(() => null);
  if (!status?.isFile() || status.size !== byteCount) return null;
  const realPath = await realpath(path).catch(() => null);
  return realPath === null ? null : { realPath, byteCount, modifiedMs: status.mtimeMs, sha256 };
}

async function holdsBytes({ folder }: OpenStudy, path: string, file: SeenFile): Promise<boolean> {
  if ((await fileSha256(path)) !== file.sha256) return false;
  await noteOutside(folder, file);
  return true;
}

/** Of a file in the study folder the study's own word is enough. */
async function noteOutside(folder: string, file: SeenFile): Promise<void> {
  if (!(await isWithin(folder, file.realPath))) await vouchFor(file);
}

async function isWithin(folder: string, realPath: string): Promise<boolean> {
  const way = relative(await realpath(folder), realPath);
  return way !== '' && !isAbsolute(way) && way.split(sep)[0] !== '..';
}

function noted(study: OpenStudy, { id }: StoredRecording, path: string, modifiedMs: number): string {
  if (!study.readOnly) moveRecording(study.store, id, relativePath(study.folder, path), modifiedMs);
  return path;
}

/** @throws InputError when the file is nowhere to be found */
export async function requireRecording(study: OpenStudy, recording: StoredRecording): Promise<string> {
  const path = await locateRecording(study, recording);
  if (path !== null) return path;
  throw new InputError({
    file: join(study.folder, recording.path),
    found: 'no such recording, or one with other bytes than were added, there or in the study folder',
    wanted: `the file that was added; if it was moved, combtone study add ${study.folder} with its new place`,
  });
}

/** Where a recording may have been moved to: files in the study folder, and those beside other recordings. */
export async function filesNearby({ folder, store }: OpenStudy): Promise<string[]> {
  const beside = allRecordings(store).map(({ path }) => dirname(join(folder, path)));
  const files: string[] = [];
  for (const place of new Set([folder, ...beside])) {
    files.push(...(await filesIn(place, place === folder ? 4 : 0)));
  }
  return files;
}

/** Paths of files, `depth` folders deep. */
async function filesIn(folder: string, depth: number): Promise<string[]> {
  const entries = await readdir(folder, { withFileTypes: true }).catch(() => []);
  const files: string[] = [];
  for (const entry of entries) {
    const path = join(folder, entry.name);
    if (entry.isFile()) files.push(path);
    else if (entry.isDirectory() && depth > 0) files.push(...(await filesIn(path, depth - 1)));
  }
  return files;
}

async function isFile(path: string): Promise<boolean> {
  return (await stat(path).catch(() => null))?.isFile() ?? false;
}

function relativePath(folder: string, path: string): string {
  return relative(folder, resolve(path)).split(sep).join('/');
}
