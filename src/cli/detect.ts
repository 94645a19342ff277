import { availableParallelism } from 'node:os';
import type { Command } from 'commander';
import { InputError } from '../input-error.ts';
import type { DetectOptions } from './detect-options.ts';

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
    .option(
      '--channel <n>',
      'channel to search, from 1 (default: all, or that of the study)',
      wholeFrom1('--channel'),
    )
    .option('--confidence <share>', 'least confidence of what is listed, 0 to 1 (default: 0.5)', shareOf)
    .option('--start <time>', 'clock time of the start, ISO 8601, where neither file nor name tells it')
    .option(
      '--threads <n>',
      'that search at a time; what is found does not depend on it (default: as many as there are cores)',
      wholeFrom1('--threads'),
    )
    .option('--json', 'print all findings as JSON')
    .addHelpText('after', example)
    .action(async (recordings: string[], options: DetectOptions) => {
      process.exitCode = await detect(recordings, options);
    });
}

/** Reads only what this call needs: a store is no part of detection in files, nor threads of one that has none. */
async function detect(recordings: readonly string[], options: DetectOptions): Promise<number> {
  const threads = options.threads ?? availableParallelism();
  const { detectOverThreads } = await import('../jobs/detect-over-threads.ts');
  const detectAll = detectOverThreads(threads);
  if (options.study === undefined) {
    const { detectFiles } = await import('./detect-files.ts');
    return detectFiles(recordings, options, detectAll);
  }
  const { detectInStudy } = await import('./detect-study.ts');
  return detectInStudy(options.study, recordings, options, detectAll);
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

function wholeFrom1(option: string): (text: string) => number {
  return (text) => {
    if (/^[1-9]\d{0,3}$/.test(text)) return Number(text);
    throw new InputError({ file: option, found: JSON.stringify(text), wanted: 'a whole number from 1' });
  };
}

function shareOf(text: string): number {
  const share = text.trim() === '' ? Number.NaN : Number(text);
  if (share >= 0 && share <= 1) return share;
  throw new InputError({ file: '--confidence', found: JSON.stringify(text), wanted: 'a number from 0 to 1' });
}
