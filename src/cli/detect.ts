import { availableParallelism } from 'node:os';
import type { Command } from 'commander';
import { InputError, oneLine } from '../input-error.ts';
import { queueAddress } from '../jobs/queue-url.ts';
import type { DetectAll } from '../study/detect-all.ts';
import { parseShard } from '../study/shard.ts';
import { addSearchOptions, type DetectOptions, wholeFrom1 } from './detect-options.ts';

const example = `
Example:
  $ combtone detect hive-20310614_093000.wav --out found
  writes found/trains.csv (every waggle run timed), found/calls.csv (begging calls and others, set apart) and
  found/dances.csv (runs gathered into dances), and prints a summary.
  $ combtone detect --study summer
  searches the recordings of a study that are not done yet; what is found goes into the study.
`;

/** Adds `combtone detect`: times the waggle runs in recordings. */
export function registerDetect(program: Command): void {
  const command = program
    .command('detect')
    .description('time the waggle runs in recordings, tell calls apart, gather runs into dances')
    .argument('[recording...]', 'sound files: WAVE, AIFF, FLAC, Ogg Vorbis, MP3')
    .option('--study <folder>', 'search the recordings of a study that are not done yet, instead of files')
    .option('--out <folder>', 'folder for trains.csv, calls.csv and dances.csv; made when absent');
  addSearchOptions(command)
    .option(
      '--start <time>',
      'clock time of the start of each, ISO 8601, where neither file nor name tells it',
    )
    .option(
      '--threads <n>',
      'that search at a time; what is found does not depend on it (default: as many as there are cores)',
      wholeFrom1('--threads'),
    )
    .option(
      '--shard <i/n>',
      'with --study: search every n-th recording, from the i-th; combtone study merge takes in what all shards found',
      parseShard,
    )
    .option(
      '--queue <url>',
      'let the workers at a queue search, such as redis://queue.example:6379 (see combtone worker --help)',
      (url: string) => queueAddress(url),
    )
    .option(
      '--root <folder>',
      'with --queue: holds all recordings, as each worker is told too (default: here)',
    )
    .option('--json', 'print all findings as JSON')
    .addHelpText('after', example)
    .action(async (recordings: string[], options: DetectOptions) => {
      process.exitCode = await detect(recordings, options);
    });
}

/** Reads only what this call needs: a store is no part of detection in files, nor threads of one that has none. */
async function detect(recordings: readonly string[], options: DetectOptions): Promise<number> {
  refuseMisfits(options);
  if (options.study === undefined) refuseForFiles(recordings, options);
  else refuseForStudy(recordings, options);
  const detectAll = await howToDetect(options);
  if (options.study === undefined) {
    const { detectFiles } = await import('./detect-files.ts');
    return detectFiles(recordings, options, detectAll);
  }
  const { detectInStudy } = await import('./detect-study.ts');
  return detectInStudy(options.study, options, detectAll);
}

async function howToDetect({ threads, queue, root }: DetectOptions): Promise<DetectAll> {
  if (queue === undefined) {
    const { detectOverThreads } = await import('../jobs/detect-over-threads.ts');
    return detectOverThreads(threads ?? availableParallelism());
  }
  const { detectOverQueue } = await import('../jobs/detect-over-queue.ts');
  return detectOverQueue({ address: queue, root: root ?? '.', onNote: note });
}

function refuseMisfits({ threads, queue, root, shard }: DetectOptions): void {
  if (queue === undefined) {
    if (root !== undefined)
      refuse('--root', 'no --queue beside it', 'a queue, whose workers find recordings there');
    return;
  }
  if (shard !== undefined)
    refuse('--queue', '--shard beside it', 'one of them: a queue shares the work out itself');
  if (threads !== undefined)
    refuse('--queue', '--threads beside it', '--threads with combtone worker, which searches');
}

function refuseForFiles(recordings: readonly string[], { shard }: DetectOptions): void {
  if (recordings.length === 0) refuse('recordings', 'none', 'sound files, or --study with a study');
  if (shard !== undefined)
    refuse(
      '--shard',
      'no --study beside it',
      'a study, which keeps what each shard found until it is merged',
    );
}

function refuseForStudy(recordings: readonly string[], { out, start }: DetectOptions): void {
  const other = recordings[0] ?? (out === undefined ? start && '--start' : '--out');
  if (other !== undefined)
    refuse(
      '--study',
      `${other} beside it`,
      'the study alone: recordings and start times are added with combtone study add',
    );
}

function refuse(file: string, found: string, wanted: string): never {
  throw new InputError({ file, found, wanted });
}

function note(text: string): void {
  process.stderr.write(`combtone: ${oneLine(text)}\n`);
}
