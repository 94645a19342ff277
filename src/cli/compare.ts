import type { Command } from 'commander';
import { InputError } from '../input-error.ts';
import { compareDefaults } from '../study/compare-defaults.ts';
import type { CompareOptions, CompareSource } from './compare-run.ts';
import { levelOf, wholeOf } from './numbers.ts';
import { runsOption } from './runs-option.ts';

const example = `
Example:
  observations.csv, one row per run, dances with and without a load to the same feeders:
    bee_id,dance_id,distance_m,duration_s,treatment
    red-7,d01,400,0.71,reference
    red-7,d02,400,0.78,loaded
    ...
  $ combtone compare --observations observations.csv --calibration calibration.json
  says by how much the load shifts run duration, tempo and the distance that dances indicate.
  $ combtone compare --study summer
  the same from the dances of a study that are tied to feeders and have a treatment noted
`;

/** Adds `combtone compare`: what a treatment does to run duration, tempo and indicated distance. */
export function registerCompare(program: Command): void {
  program
    .command('compare')
    .description('compare dances under a treatment with those of the reference, at the same feeders')
    .option('--observations <file>', 'table of runs with a treatment column, CSV')
    .option('--study <folder>', 'take the dances of a study that are tied to feeders')
    .option(
      '--calibration <file>',
      'calibration to turn seconds into metres (default: the curve of the reference dances)',
    )
    .option(
      '--reference <name>',
      'treatment to compare with (default: those noted as "reference", and those of no treatment)',
    )
    .addOption(runsOption(compareDefaults.runs))
    .option(
      '--level <share>',
      'probability of the intervals, between 0 and 1',
      levelOf,
      compareDefaults.level,
    )
    .option(
      '--seed <number>',
      'seed of the draws of metres and of the shuffles of the permutation test',
      wholeOf('--seed', 0, 2 ** 31 - 1),
      compareDefaults.seed,
    )
    .option(
      '--permutations <number>',
      'how many shuffles the permutation test makes',
      wholeOf('--permutations', 99, 100_000),
      compareDefaults.permutations,
    )
    .option('--out <file>', 'comparison to write, JSON')
    .option('--json', 'print the comparison as JSON')
    .addHelpText('after', example)
    .action(async (options: CompareOptions) => {
      const source = sourceOf(options);
      const { runCompare } = await import('./compare-run.ts');
      await runCompare(source, options);
    });
}

/** @throws InputError where the call gives nothing to read, or two things */
function sourceOf({ observations, study }: CompareOptions): CompareSource {
  if (observations !== undefined && study !== undefined) {
    throw new InputError({
      file: '--study',
      found: '--observations beside it',
      wanted: 'a study or a table of runs, not both',
    });
  }
  if (observations !== undefined) return { observations };
  if (study === undefined) {
    throw new InputError({
      file: '--observations',
      found: 'neither it nor --study',
      wanted: 'a table of runs, or a study',
    });
  }
  return { study };
}
