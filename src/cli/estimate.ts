import { type Command, Option } from 'commander';
import { defaultPrior } from '../calibration/defaults.ts';
import { InputError } from '../input-error.ts';
import type { EstimateOptions, EstimateSource } from './estimate-run.ts';
import { levelOf, rangeOf } from './numbers.ts';

const example = `
Example:
  $ combtone estimate --calibration calibration.json --observations foraging.csv --out estimates.csv
  gives each dance a distance with its 95 % interval; foraging.csv has one row per run:
    bee_id,dance_id,duration_s
    ,f01,1.12
    ,f01,1.07
    ...
  $ combtone estimate --study summer --posteriors posteriors.csv
  the same for the dances of a study that have no feeder, by the calibration saved in it last; combtone map reads
  posteriors.csv
`;

/** Adds `combtone estimate`: distances, with intervals, of dances to unknown places. */
export function registerEstimate(program: Command): void {
  program
    .command('estimate')
    .description('estimate the distances of dances to unknown places, with intervals')
    .option('--calibration <file>', 'calibration written by combtone calibrate')
    .option('--observations <file>', 'table of runs, CSV')
    .option('--study <folder>', 'take the dances of a study that have no feeder')
    .option('--saved <name>', 'calibration saved in the study under this name (default: the newest)')
    .option('--level <share>', 'probability of the intervals, between 0 and 1', levelOf, 0.95)
    .addOption(
      new Option(
        '--prior <m-m>',
        'nearest and farthest distance thought of, m, all between as likely before a dance is read',
      )
        .argParser(rangeOf('--prior'))
        .default(defaultPrior, `${defaultPrior.nearestM}-${defaultPrior.farthestM}`),
    )
    .option('--out <file>', 'table of estimates to write, CSV')
    .option(
      '--neighbourhoods <file>',
      'table to write of the probability within each feeder’s neighbourhood, CSV',
    )
    .option('--posteriors <file>', 'table to write of each dance’s posterior, CSV, as combtone map reads it')
    .option('--figures <folder>', 'folder for a figure of each dance’s posterior, HTML and SVG')
    .option('--json', 'print the estimates as JSON')
    .addHelpText('after', example)
    .action(async (options: EstimateOptions) => {
      const source = sourceOf(options);
      const { runEstimate } = await import('./estimate-run.ts');
      await runEstimate(source, options);
    });
}

/** @throws InputError where the call gives too little to read, or two things for one */
function sourceOf({ calibration, observations, study, saved }: EstimateOptions): EstimateSource {
  if (study !== undefined) {
    const beside = observations !== undefined ? '--observations' : undefined;
    if (beside !== undefined || (saved !== undefined && calibration !== undefined)) {
      throw new InputError({
        file: beside === undefined ? '--saved' : '--study',
        found: `${beside ?? '--calibration'} beside it`,
        wanted: 'one of the two',
      });
    }
    return { study };
  }
  const refuse = (file: string, found: string, wanted: string) => new InputError({ file, found, wanted });
  if (observations === undefined) {
    throw refuse('--observations', 'neither it nor --study', 'a table of runs, or a study');
  }
  if (saved !== undefined) throw refuse('--saved', 'no --study beside it', '--study with a study');
  if (calibration === undefined) {
    throw refuse('--calibration', 'nothing', 'a calibration written by combtone calibrate');
  }
  return { observations, calibration };
}
