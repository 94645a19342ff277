import { join } from 'node:path';
import { InputError } from '../input-error.ts';
import type { DetectAll } from '../study/detect-all.ts';
import { allRecordings } from '../study/store/recordings.ts';
import { detectStudy, dueRecordings, type StudyDetected, searchSettings } from '../study/study-detect.ts';
import { openStudy } from '../study/study-folder.ts';
import { studyDetectionText } from '../study/study-text.ts';
import type { DetectOptions } from './detect-options.ts';
import { detectProgress } from './detect-progress.ts';
import { interruption } from './interruption.ts';

/**
 * Detects what of a study is not done with these settings; each recording is kept as soon as it is done.
 *
 * @returns exit code: 2 where some recording could not be found or read, though all others were
 */
export async function detectInStudy(
  folder: string,
  paths: readonly string[],
  options: DetectOptions,
  detectAll: DetectAll,
): Promise<number> {
  refuseBeside(paths, options);
  const { band, channel, confidence } = options;
  const study = await openStudy(folder);
  const wanted = {
    ...(band === undefined ? {} : { band }),
    ...(channel === undefined ? {} : { channels: [channel] }),
    ...(confidence === undefined ? {} : { leastConfidence: confidence }),
  };
  const due = dueRecordings(study, allRecordings(study.store), searchSettings(study, wanted));
  const indexOf = new Map(due.map(({ id }, index) => [id, index]));
  const progress = await detectProgress(due.map(({ path }) => join(study.folder, path)));
  const { signal, exitCode, release } = interruption();
  try {
    const detected = await detectStudy(study, {
      ...wanted,
      detectAll,
      signal,
      onProgress: ({ id }, searchedS, durationS) => progress.searched(indexOf.get(id)!, searchedS, durationS),
    });
    progress.end();
    if (signal.aborted) tellStopped(detected);
    return tell(detected, options, exitCode());
  } finally {
    progress.end();
    release();
    study.store.close();
  }
}

function refuseBeside(paths: readonly string[], { out, start }: DetectOptions): void {
  const other = paths[0] ?? (out === undefined ? start && '--start' : '--out');
  if (other === undefined) return;
  throw new InputError({
    file: '--study',
    found: `${other} beside it`,
    wanted: 'the study alone: recordings and start times are added with combtone study add',
  });
}

/** @returns exit code */
function tell(
  { done, already, failures }: StudyDetected,
  { json }: DetectOptions,
  stoppedWith: number,
): number {
  for (const failure of failures) process.stderr.write(`combtone: ${failure.message}\n`);
  const code = stoppedWith || (failures.length > 0 ? 2 : 0);
  if (done.length === 0 && code !== 0) return code;
  const told = done.map(({ recording, detection }) => ({ recording: recording.path, ...detection }));
  process.stdout.write(
    json
      ? `${JSON.stringify({ detected: told, already }, null, 2)}\n`
      : `${studyDetectionText(done, already)}\n`,
  );
  return code;
}

function tellStopped({ done, left }: StudyDetected): void {
  const kept = done.length === 1 ? '1 recording is' : `${done.length} recordings are`;
  process.stderr.write(
    `combtone: stopped: ${kept} done and kept in the study, ${left} left; the same call goes on with them\n`,
  );
}
