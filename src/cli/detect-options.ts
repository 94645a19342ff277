import type { Command } from 'commander';
import { isSearchable, searchableBands } from '../dance/settings.ts';
import { InputError } from '../input-error.ts';
import type { QueueAddress } from '../jobs/queue-url.ts';
import type { Shard } from '../study/shard.ts';

/** What findings depend on beside the sound. */
export interface SearchOptions {
  readonly band?: readonly [number, number];
  readonly channel?: number;
  readonly confidence?: number;
}

/** What the call of `combtone detect` gives beside the recordings. */
export interface DetectOptions extends SearchOptions {
  readonly out?: string;
  readonly study?: string;
  readonly start?: string;
  readonly threads?: number;
  readonly shard?: Shard;
  readonly queue?: QueueAddress;
  readonly root?: string;
  readonly json?: boolean;
}

/** Adds the options that findings depend on. */
export function addSearchOptions(command: Command): Command {
  return command
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
    .option(
      '--confidence <share>',
      'least confidence of the trains that are listed, 0 to 1 (default: 0.5); calls are listed from 0.12',
      shareOf,
    );
}

/** The same as a study takes them in place of its own. */
export function searchWanted({ band, channel, confidence }: SearchOptions) {
  return {
    ...(band === undefined ? {} : { band }),
    ...(channel === undefined ? {} : { channels: [channel] }),
    ...(confidence === undefined ? {} : { leastConfidence: confidence }),
  };
}

function bandOf(text: string): readonly [number, number] {
  const match = /^(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)$/.exec(text.trim());
  const band = [Number(match?.[1]), Number(match?.[2])] as const;
  if (isSearchable(band)) return band;
  throw new InputError({ file: '--band', found: JSON.stringify(text), wanted: searchableBands });
}

/** Reads an option’s whole number from 1 to 9999. @throws InputError for anything else */
export function wholeFrom1(option: string): (text: string) => number {
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
