import { type Command, Option } from 'commander';
import { curves } from '../calibration/curves/registry.ts';
import { defaultDraws, defaultSeed } from '../calibration/defaults.ts';
import { InputError } from '../input-error.ts';
import type { CalibrateOptions, CalibrateSource } from './calibrate-run.ts';
import { wholeOf } from './numbers.ts';
import { runsOption } from './runs-option.ts';

const example = `
Example:
  observations.csv, one row per run:
    bee_id,dance_id,distance_m,duration_s,treatment
    red-7,d01,200,0.61,reference
    red-7,d01,200,0.58,reference
    ...
  $ combtone calibrate --observations observations.csv --out calibration.json
  $ combtone calibrate --study summer --name June
  the same from the dances of a study that are tied to feeders; kept in the study under a name, where estimate
  and the review page find it
`;

const DEFAULT_NAME = 'calibration';

/** Adds `combtone calibrate`: run duration and dance tempo on distance, from dances to known feeders. */
export function registerCalibrate(program: Command): void {
  program
    .command('calibrate')
    .description('fit the curve of run duration (and dance tempo) on distance from dances to known feeders')
    .option('--observations <file>', 'table of runs, CSV')
    .option('--study <folder>', 'take the dances of a study that are tied to feeders, and save in the study')
    .option('--name <name>', `name to save under in the study (default: "${DEFAULT_NAME}")`, nameOf)
    .option('--unwatched', 'also dances that only openings.csv ties to a feeder, of bees not named')
    .addOption(
      new Option('--curve <name>', 'curve of run duration; auto takes the one with the smallest AICc')
        .choices(['auto', ...curves.map((curve) => curve.name)])
        .default('auto'),
    )
    .addOption(
      new Option('--tempo-curve <name>', 'the same for circuit time (15 s over circuits per 15 s)')
        .choices(['auto', ...curves.map((curve) => curve.name)])
        .default('auto'),
    )
    .option(
      '--reference <name>',
      'treatment the curve is fitted to (default: empty or "reference", or the only one)',
    )
    .addOption(runsOption('inner'))
    .option('--seed <number>', 'seed of the draws', wholeOf('--seed', 0, 2 ** 31 - 1), defaultSeed)
    .option('--draws <number>', 'how many draws', wholeOf('--draws', 50, 5000), defaultDraws)
    .option('--out <file>', 'calibration to write, JSON; needed without --study')
    .option('--figures <folder>', 'folder for figures, HTML and SVG')
    .option('--json', 'print the calibration as JSON')
    .addHelpText('after', example)
    .action(async (options: CalibrateOptions) => {
      const source = sourceOf(options);
      const { runCalibrate } = await import('./calibrate-run.ts');
      await runCalibrate(source, options);
    });
}

/** @throws InputError where the call gives nothing to read, nowhere to write, or two things to read */
function sourceOf({ observations, study, out, name }: CalibrateOptions): CalibrateSource {
  if (study !== undefined) {
    if (observations !== undefined) {
      throw new InputError({
        file: '--study',
        found: '--observations beside it',
        wanted: 'a study or a table of runs, not both',
      });
    }
    return { study, name: name ?? DEFAULT_NAME };
  }
  if (observations === undefined) {
    throw new InputError({
      file: '--observations',
      found: 'neither it nor --study',
      wanted: 'a table of runs, or a study',
    });
  }
  if (name !== undefined) {
    throw new InputError({ file: '--name', found: 'no --study beside it', wanted: '--study with a study' });
  }
  if (out === undefined) {
    throw new InputError({ file: '--out', found: 'nothing', wanted: 'the calibration to write, JSON' });
  }
  return { observations, out };
}

function nameOf(text: string): string {
  const name = text.trim();
  if (name.length > 0 && name.length <= 120) return name;
  throw new InputError({ file: '--name', found: JSON.stringify(text), wanted: '1 to 120 characters' });
}
