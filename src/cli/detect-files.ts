import { access, constants, mkdir, stat } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import { DEFAULT_SETTINGS, type DetectorSettings } from '../dance/settings.ts';
import { InputError, unwritable } from '../input-error.ts';
import type { DetectAll } from '../study/detect-all.ts';
import type { RecordingDetection } from '../study/detect-recording.ts';
import { channelsText, dancesText, recordingsText } from '../study/detection-text.ts';
import { sameContent } from '../study/same-content.ts';
import { warn } from '../study/warn.ts';
import type { DetectOptions } from './detect-options.ts';
import { detectProgress } from './detect-progress.ts';
import { tellFailures } from './failure.ts';
import { interruption } from './interruption.ts';

/**
 * Detects in files, and writes and prints what was found.
 *
 * @returns exit code: 2 where some recording could not be read, 1 where some could not be searched, though all
 * others were
 */
export async function detectFiles(
  paths: readonly string[],
  options: DetectOptions,
  detectAll: DetectAll,
): Promise<number> {
  refuseTwins(paths);
  if (options.out !== undefined) await refuseUnwritable(options.out);
  const twins = await sameContent(paths);
  const searched = await search(
    paths.filter((path) => !twins.has(path)),
    options,
    detectAll,
  );
  if (searched.stoppedWith !== 0) {
    const written = options.out === undefined ? '' : ': nothing is written';
    process.stderr.write(
      `combtone: stopped after ${searched.done.length} of ${paths.length - twins.size} recordings${written} ` +
        '(with --study each is kept as soon as it is done)\n',
    );
    return searched.stoppedWith;
  }
  const { done, failures } = searched;
  // Alone, one bad file is simply the error.
  if (paths.length === 1 && failures.length === 1) throw failures[0]!;
  for (const [path, first] of twins) warn(`${path}: the same bytes as ${first}: detected once`);
  await tell(done, options);
  return tellFailures(failures);
}

interface Searched {
  readonly done: readonly RecordingDetection[];
  /** One bad file must not cost the others their work. */
  readonly failures: readonly Error[];
  /** Exit code where the work was ended before its time, else 0. */
  readonly stoppedWith: number;
}

async function search(
  paths: readonly string[],
  options: DetectOptions,
  detectAll: DetectAll,
): Promise<Searched> {
  const settings: DetectorSettings = {
    ...DEFAULT_SETTINGS,
    ...(options.band === undefined ? {} : { bandLowHz: options.band[0], bandHighHz: options.band[1] }),
    ...(options.confidence === undefined ? {} : { leastConfidence: options.confidence }),
  };
  const tasks = paths.map((path) => ({
    path,
    settings,
    channels: options.channel === undefined ? [] : [options.channel],
    ...(options.start === undefined ? {} : { startTime: options.start }),
  }));
  const progress = await detectProgress(paths);
  const { signal, exitCode, release } = interruption();
  const done: RecordingDetection[] = [];
  const failures: Error[] = [];
  try {
    for await (const outcome of detectAll(tasks, { onProgress: progress.searched, signal })) {
      if (outcome.ok) done.push(outcome.found);
      else failures.push(outcome.error);
    }
  } catch (error) {
    if (!signal.aborted) throw error;
  } finally {
    progress.end();
    release();
  }
  return { done, failures, stoppedWith: exitCode() };
}

/** Writes the tables, and prints them or a summary. */
async function tell(done: readonly RecordingDetection[], options: DetectOptions): Promise<void> {
  const tables = {
    trains: done.flatMap((one) => one.trains),
    calls: done.flatMap((one) => one.calls),
    dances: done.flatMap((one) => one.dances),
  };
  if (options.out !== undefined && done.length > 0) await writeTables(options.out, tables);
  for (const { info, warnings } of done) {
    for (const warning of warnings) warn(`${info.path}: ${warning}`);
  }
  // Read after the search, which starts the sooner.
  const { sessionNotes, sessionsOf } = await import('../study/sessions.ts');
  const sessions = sessionsOf(
    done.map(({ info }) => info),
    null,
  );
  for (const note of sessionNotes(sessions)) warn(note);
  if (done.length === 0) return;
  if (options.json) {
    const recordings = done.map(({ info, channels }) => ({ ...info, channels }));
    process.stdout.write(`${JSON.stringify({ ...tables, recordings, sessions }, null, 2)}\n`);
    return;
  }
  const written =
    options.out === undefined ? '' : `\nWritten: ${options.out}/trains.csv, calls.csv, dances.csv\n`;
  process.stdout.write(
    `${recordingsText(done)}\n\n${channelsText(done)}\n\n${dancesText(tables.dances)}\n${written}`,
  );
}

async function writeTables(
  folder: string,
  tables: Pick<RecordingDetection, 'trains' | 'calls' | 'dances'>,
): Promise<void> {
  try {
    await mkdir(folder, { recursive: true });
  } catch (error) {
    throw unwritable('--out', error, {
      found: `${folder}, which cannot be made (${(error as NodeJS.ErrnoException).code})`,
      wanted: 'a folder that may be written to',
    });
  }
  const { writeTable } = await import('../study/csv.ts');
  const { callSchema, danceSchema, trainSchema } = await import('../study/tables.ts');
  await writeTable(join(folder, 'trains.csv'), trainSchema, tables.trains);
  await writeTable(join(folder, 'calls.csv'), callSchema, tables.calls);
  await writeTable(join(folder, 'dances.csv'), danceSchema, tables.dances);
}

/** Hours of work must not be lost on a folder that cannot be: what is there on the way to it is looked at first. */
async function refuseUnwritable(folder: string): Promise<void> {
  const refuse = (found: string) => {
    throw new InputError({ file: '--out', found, wanted: 'a folder that may be written to' });
  };
  for (let place = resolve(folder); ; place = dirname(place)) {
    const status = await stat(place).catch((error: NodeJS.ErrnoException) =>
      error.code === 'ENOENT' || error.code === 'ENOTDIR' ? null : refuse(`${place} (${error.code})`),
    );
    if (!status) continue;
    if (!status.isDirectory()) refuse(`${place}, which is a file`);
    await access(place, constants.W_OK).catch(() => refuse(`${place}, which may not be written to`));
    return;
  }
}

/** Tables name recordings by file name, and ids are made of it: two of one name could not be told apart. */
function refuseTwins(paths: readonly string[]): void {
  const seen = new Map<string, string>();
  for (const path of paths) {
    const name = basename(path);
    const other = seen.get(name);
    if (other !== undefined) {
      throw new InputError({
        file: path,
        found: `the same file name as ${other}`,
        wanted: 'recordings with different names in one call',
      });
    }
    seen.set(name, path);
  }
}
