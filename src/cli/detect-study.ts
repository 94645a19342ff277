import { join } from 'node:path';
import { counted } from '../study/counted.ts';
import type { DetectAll } from '../study/detect-all.ts';
import type { Shard } from '../study/shard.ts';
import { allRecordings, type StoredRecording } from '../study/store/recordings.ts';
import { detectStudy, dueRecordings, type StudyDetected, searchSettings } from '../study/study-detect.ts';
import { openStudy } from '../study/study-folder.ts';
import { detectShard, type ShardDetected } from '../study/study-shard.ts';
import { studyDetectionText } from '../study/study-text.ts';
import { type DetectOptions, searchWanted } from './detect-options.ts';
import { detectProgress } from './detect-progress.ts';
import { tellFailures } from './failure.ts';
import { interruption } from './interruption.ts';

/**
 * Detects what of a study is not done with these settings; each recording is kept as soon as it is done.
 *
 * @returns exit code: 2 where some recording could not be found or read, 1 where some could not be searched, though
 * all others were
 */
export async function detectInStudy(
  folder: string,
  options: DetectOptions,
  detectAll: DetectAll,
): Promise<number> {
  const { shard } = options;
  const study = await openStudy(folder, shard !== undefined);
  const wanted = searchWanted(options);
  const due = dueRecordings(study, allRecordings(study.store), searchSettings(study, wanted));
  const indexOf = new Map(due.map(({ id }, index) => [id, index]));
  const progress = await detectProgress(due.map(({ path }) => join(study.folder, path)));
  const { signal, exitCode, release } = interruption();
  try {
    const how = {
      ...wanted,
      detectAll,
      signal,
      onProgress: ({ id }: StoredRecording, searchedS: number, durationS: number) =>
        progress.searched(indexOf.get(id)!, searchedS, durationS),
    };
    if (shard !== undefined) {
      const detected = await detectShard(study, shard, how);
      progress.end();
      if (signal.aborted) tellStopped(detected, 'for combtone study merge');
      return tell(detected, exitCode(), () => shardText(detected, shard, options));
    }
    const detected = await detectStudy(study, how);
    progress.end();
    if (signal.aborted) tellStopped(detected, 'in the study');
    return tell(detected, exitCode(), () => studyText(detected, folder, options));
  } finally {
    progress.end();
    release();
    study.store.close();
  }
}

/** Tells what was wrong, and what was done unless that is nothing. @returns exit code */
function tell(
  { done, failures }: { readonly done: readonly unknown[]; readonly failures: readonly Error[] },
  stoppedWith: number,
  text: () => string,
): number {
  const failed = tellFailures(failures);
  const code = stoppedWith || failed;
  if (done.length > 0 || code === 0) process.stdout.write(text());
  return code;
}

/** What a study wants when its sounds are found. */
const nextText = (folder: string): string => `
Next: combtone review --study ${folder}   look, listen and correct in the browser
      combtone study note --help   who danced, and at what angle, from a table
      combtone study status ${folder}   how far all is
`;

function studyText(
  { done, already, meanwhile }: StudyDetected,
  folder: string,
  { json }: DetectOptions,
): string {
  if (!json) return `${studyDetectionText(done, already, meanwhile)}\n${nextText(folder)}`;
  const detected = done.map(({ recording, detection }) => ({ recording: recording.path, ...detection }));
  return `${JSON.stringify({ detected, already, meanwhile }, null, 2)}\n`;
}

function shardText(
  { done, already }: ShardDetected,
  { number, count }: Shard,
  { json }: DetectOptions,
): string {
  if (json) return `${JSON.stringify({ found: done.map(({ path }) => path), already }, null, 2)}\n`;
  const recordings = counted(done.length, 'recording');
  return (
    `Shard ${number}/${count}: ${recordings} searched, ${already} had been before, with these settings\n` +
    'When all shards are done: combtone study merge\n'
  );
}

function tellStopped(
  { done, left }: { readonly done: readonly unknown[]; readonly left: number },
  where: string,
): void {
  const kept = done.length === 1 ? '1 recording is' : `${done.length} recordings are`;
  process.stderr.write(
    `combtone: stopped: ${kept} done and kept ${where}, ${left} left; the same call goes on with them\n`,
  );
}
