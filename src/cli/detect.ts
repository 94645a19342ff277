import { access, constants, mkdir, stat } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import type { Command } from 'commander';
import { DEFAULT_SETTINGS, type DetectorSettings } from '../dance/settings.ts';
import { InputError, oneLine } from '../input-error.ts';
import { writeTable } from '../study/csv.ts';
import { detectRecording, type RecordingDetection } from '../study/detect-recording.ts';
import { channelsText, dancesText, recordingsText } from '../study/detection-text.ts';
import { sameContent } from '../study/same-content.ts';
import { sessionNotes, sessionsOf } from '../study/sessions.ts';
import { detectStudy } from '../study/study-detect.ts';
import { openStudy } from '../study/study-folder.ts';
import { studyDetectionText } from '../study/study-text.ts';
import { callSchema, danceSchema, trainSchema } from '../study/tables.ts';
import { progressLine } from './progress.ts';

interface DetectOptions {
  readonly out?: string;
  readonly study?: string;
  readonly band?: readonly [number, number];
  readonly channel?: number;
  readonly confidence?: number;
  readonly start?: string;
  readonly json?: boolean;
}

const example = `
Example:
  $ combtone detect hive-20310614_093000.wav --out found
  writes found/trains.csv (every waggle run timed), found/calls.csv (begging calls and others, set apart) and
  found/dances.csv (runs gathered into dances), and prints a summary.
`;

/** Adds `combtone detect`: times the waggle runs in recordings. */
export function registerDetect(program: Command): void {
  program
    .command('detect')
    .description('time the waggle runs in recordings, tell calls apart, gather runs into dances')
    .argument('[recording...]', 'sound files: WAVE, AIFF, FLAC, Ogg Vorbis, MP3')
    .option('--study <folder>', 'search the recordings of a study that are not done yet, instead of files')
    .option('--out <folder>', 'folder for trains.csv, calls.csv and dances.csv; made when absent')
    .option(
      '--band <low-high>',
      'carriers of dance sound, Hz (default: 200-400, or that of the study)',
      bandOf,
    )
    .option('--channel <n>', 'channel to search, from 1 (default: all, or that of the study)', wholeFrom1)
    .option('--confidence <share>', 'least confidence of what is listed, 0 to 1 (default: 0.5)', shareOf)
    .option('--start <time>', 'clock time of the start, ISO 8601, where neither file nor name tells it')
    .option('--json', 'print all findings as JSON')
    .addHelpText('after', example)
    .action(async (recordings: string[], options: DetectOptions) => {
      process.exitCode =
        options.study === undefined
          ? await detect(recordings, options)
          : await detectInStudy(options.study, recordings, options);
    });
}

/** @returns exit code: 2 where some recording could not be read, though all others were */
async function detect(paths: readonly string[], options: DetectOptions): Promise<number> {
  if (paths.length === 0) {
    throw new InputError({
      file: 'recordings',
      found: 'none',
      wanted: 'sound files, or --study with a study',
    });
  }
  refuseTwins(paths);
  if (options.out !== undefined) await refuseUnwritable(options.out);
  const settings: DetectorSettings = {
    ...DEFAULT_SETTINGS,
    ...(options.band === undefined ? {} : { bandLowHz: options.band[0], bandHighHz: options.band[1] }),
    ...(options.confidence === undefined ? {} : { leastConfidence: options.confidence }),
  };
  const wanted = {
    settings,
    channels: options.channel === undefined ? [] : [options.channel],
    ...(options.start === undefined ? {} : { startTime: options.start }),
  };
  const progress = progressLine();
  const done: RecordingDetection[] = [];
  const failures: InputError[] = [];
  const twins = await sameContent(paths);
  try {
    for (const [index, path] of paths.entries()) {
      if (twins.has(path)) continue;
      const onProgress = (searchedS: number, durationS: number) =>
        progress(basename(path), (index + Math.min(1, searchedS / durationS)) / paths.length);
      try {
        done.push(await detectRecording(path, { ...wanted, onProgress }));
      } catch (error) {
        // One bad file must not cost the others their work; alone, it is simply the error.
        if (!(error instanceof InputError) || paths.length === 1) throw error;
        failures.push(error);
      }
    }
  } finally {
    // Whatever is printed next begins on a line of its own.
    progress('', 1);
  }
  const tables = {
    trains: done.flatMap((one) => one.trains),
    calls: done.flatMap((one) => one.calls),
    dances: done.flatMap((one) => one.dances),
  };
  if (options.out !== undefined && done.length > 0) await writeTables(options.out, tables);
  for (const { info, warnings } of done) {
    for (const warning of warnings) warn(`${info.path}: ${warning}`);
  }
  for (const [path, first] of twins) warn(`${path}: the same bytes as ${first}: detected once`);
  const sessions = sessionsOf(
    done.map(({ info }) => info),
    null,
  );
  for (const note of sessionNotes(sessions)) warn(note);
  for (const failure of failures) process.stderr.write(`combtone: ${failure.message}\n`);
  if (done.length === 0) return 2;
  if (options.json) {
    process.stdout.write(
      `${JSON.stringify({ ...tables, recordings: done.map(({ info, channels }) => ({ ...info, channels })), sessions }, null, 2)}\n`,
    );
  } else {
    const written =
      options.out === undefined ? '' : `\nWritten: ${options.out}/trains.csv, calls.csv, dances.csv\n`;
    process.stdout.write(
      `${recordingsText(done)}\n\n${channelsText(done)}\n\n${dancesText(tables.dances)}\n${written}`,
    );
  }
  return failures.length > 0 ? 2 : 0;
}

function warn(text: string): void {
  process.stderr.write(`combtone: warning: ${oneLine(text)}\n`);
}

/** Detects what of a study is not done with these settings; each recording is kept as soon as it is done. */
async function detectInStudy(
  folder: string,
  paths: readonly string[],
  { band, channel, confidence, out, start, json }: DetectOptions,
): Promise<number> {
  const other = paths[0] ?? (out === undefined ? start && '--start' : '--out');
  if (other !== undefined) {
    throw new InputError({
      file: '--study',
      found: `${other} beside it`,
      wanted: 'the study alone: recordings and start times are added with combtone study add',
    });
  }
  const study = await openStudy(folder);
  const progress = progressLine();
  try {
    const { done, already } = await detectStudy(study, {
      ...(band === undefined ? {} : { band }),
      ...(channel === undefined ? {} : { channels: [channel] }),
      ...(confidence === undefined ? {} : { leastConfidence: confidence }),
      onProgress: (recording, share) => progress(basename(recording.path), share),
    });
    progress('', 1);
    const told = done.map(({ recording, detection }) => ({ recording: recording.path, ...detection }));
    process.stdout.write(
      json
        ? `${JSON.stringify({ detected: told, already }, null, 2)}\n`
        : `${studyDetectionText(done, already)}\n`,
    );
  } finally {
    progress('', 1);
    study.store.close();
  }
  return 0;
}

async function writeTables(
  folder: string,
  tables: Pick<RecordingDetection, 'trains' | 'calls' | 'dances'>,
): Promise<void> {
  try {
    await mkdir(folder, { recursive: true });
  } catch (error) {
    throw new InputError({
      file: '--out',
      found: `${folder}, which cannot be made (${(error as NodeJS.ErrnoException).code})`,
      wanted: 'a folder that may be written to',
    });
  }
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

function bandOf(text: string): readonly [number, number] {
  const match = /^(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)$/.exec(text.trim());
  const low = Number(match?.[1]);
  const high = Number(match?.[2]);
  if (low >= 100 && high <= 700 && high - low >= 60) return [low, high];
  throw new InputError({
    file: '--band',
    found: JSON.stringify(text),
    wanted: 'two frequencies within 100 to 700 Hz, at least 60 Hz apart, such as 200-400',
  });
}

function wholeFrom1(text: string): number {
  if (/^[1-9]\d{0,3}$/.test(text)) return Number(text);
  throw new InputError({ file: '--channel', found: JSON.stringify(text), wanted: 'a whole number from 1' });
}

function shareOf(text: string): number {
  const share = text.trim() === '' ? Number.NaN : Number(text);
  if (share >= 0 && share <= 1) return share;
  throw new InputError({ file: '--confidence', found: JSON.stringify(text), wanted: 'a number from 0 to 1' });
}
