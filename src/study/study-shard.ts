import { existsSync } from 'node:fs';
import { mkdir, readFile, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { InputError } from '../input-error.ts';
import { writeWhole } from './csv.ts';
import { foundText, readFoundText } from './found-record.ts';
import { type Shard, shardOf } from './shard.ts';
import type { DetectionSummary } from './store/detections.ts';
import { allRecordings, type StoredRecording } from './store/recordings.ts';
import {
  dueRecordings,
  isDetected,
  keepFindings,
  type SearchSettings,
  type StudyDetectOptions,
  searchRecordings,
  searchSettings,
  settingsHash,
} from './study-detect.ts';
import type { OpenStudy } from './study-folder.ts';

/** Folder of a study where shards leave what they found: one file for each recording and settings. */
const FOUND_FOLDER = 'found';

/** The file's name tells what it is of, so that shards never write over each other's and repeats do nothing. */
function foundPath({ folder }: OpenStudy, { sha256 }: StoredRecording, settings: SearchSettings): string {
  return join(folder, FOUND_FOLDER, `${sha256}-${settingsHash(settings).slice(0, 16)}.json`);
}

/** What became of the recordings of a shard. */
export interface ShardDetected {
  readonly done: readonly StoredRecording[];
  /** Recordings that this shard or the study had already. */
  readonly already: number;
  readonly failures: readonly Error[];
  readonly left: number;
}

/**
 * Detects in the recordings of one shard of a study and leaves what is found in files in the study folder, for
 * `mergeFound`. The store is only read, so that shards may run at once on machines that share nothing but the folder.
 */
export async function detectShard(
  study: OpenStudy,
  shard: Shard,
  options: StudyDetectOptions = {},
): Promise<ShardDetected> {
  const settings = searchSettings(study, options);
  const recordings = shardOf(options.recordings ?? allRecordings(study.store), shard);
  const due: StoredRecording[] = [];
  for (const recording of dueRecordings(study, recordings, settings)) {
    if (!(await isFound(study, recording, settings))) due.push(recording);
  }
  const done: StoredRecording[] = [];
  const searched = await searchRecordings(study, due, settings, options, async (recording, found) => {
    const key = { sha256: recording.sha256, settingsHash: settingsHash(settings) };
    await mkdir(join(study.folder, FOUND_FOLDER), { recursive: true });
    await writeWhole(foundPath(study, recording, settings), foundText(key, found));
    done.push(recording);
  });
  return { done, already: recordings.length - due.length, ...searched };
}

/** A file of another version, or one that cannot be read, is made anew. */
async function isFound(
  study: OpenStudy,
  recording: StoredRecording,
  settings: SearchSettings,
): Promise<boolean> {
  const path = foundPath(study, recording, settings);
  if (!existsSync(path)) return false;
  return readFound(path, recording, settings).then(
    () => true,
    (error) => {
      if (error instanceof InputError) return false;
      throw error;
    },
  );
}

async function readFound(path: string, { sha256 }: StoredRecording, settings: SearchSettings) {
  const text = await readFile(path, 'utf8');
  return readFoundText(path, text, { sha256, settingsHash: settingsHash(settings) });
}

/** What `mergeFound` did. */
export interface Merged {
  readonly done: readonly { readonly recording: StoredRecording; readonly detection: DetectionSummary }[];
  readonly already: number;
  /** Recordings that no shard has left anything of. */
  readonly missing: readonly StoredRecording[];
  readonly failures: readonly InputError[];
}

/**
 * Takes what shards found into the study, in the order of recordings, as if one call had detected it all, and
 * removes the files that are taken in. May be repeated as shards finish; ended amid its work it goes on where it was.
 */
export async function mergeFound(
  study: OpenStudy,
  options: Pick<StudyDetectOptions, 'band' | 'channels' | 'leastConfidence'> = {},
): Promise<Merged> {
  const settings = searchSettings(study, options);
  const done: { recording: StoredRecording; detection: DetectionSummary }[] = [];
  const missing: StoredRecording[] = [];
  const failures: InputError[] = [];
  let already = 0;
  for (const recording of allRecordings(study.store)) {
    const path = foundPath(study, recording, settings);
    if (isDetected(study, recording.id, settings)) {
      already++;
      await rm(path, { force: true });
    } else if (!existsSync(path)) {
      missing.push(recording);
    } else {
      try {
        const found = await readFound(path, recording, settings);
        done.push({ recording, detection: keepFindings(study, recording, found, settings) });
        await rm(path, { force: true });
      } catch (error) {
        if (!(error instanceof InputError)) throw error;
        failures.push(error);
      }
    }
  }
  return { done, already, missing, failures };
}
