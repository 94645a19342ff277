import { type Command, Option } from 'commander';
import { defaultDraws, defaultSeed } from '../calibration/calibrate.ts';
import { curves } from '../calibration/curves/registry.ts';
import { type RunChoice, runChoices } from '../calibration/runs.ts';
import { calibrateObservations } from '../study/calibrate-observations.ts';
import { formatCalibration, writeCalibration } from '../study/calibration-record.ts';
import { calibrationText } from '../study/calibration-text.ts';
import { recordFigures } from '../study/figures/record-figures.ts';
import { readObservations } from '../study/observations.ts';
import { drawFigures } from './figures.ts';
import { wholeOf } from './numbers.ts';

interface CalibrateOptions {
  readonly observations: string;
  readonly curve: string;
  readonly reference?: string;
  readonly runs: RunChoice;
  readonly tempoCurve: string;
  readonly seed: number;
  readonly draws: number;
  readonly out: string;
  readonly figures?: string;
  readonly json?: boolean;
}

const example = `
Example:
  observations.csv, one row per run:
    bee_id,dance_id,distance_m,duration_s,treatment
    red-7,d01,200,0.61,reference
    red-7,d01,200,0.58,reference
    ...
  $ combtone calibrate --observations observations.csv --out calibration.json
`;

/** Adds `combtone calibrate`: run duration and dance tempo on distance, from dances to known feeders. */
export function registerCalibrate(program: Command): void {
  program
    .command('calibrate')
    .description('fit the curve of run duration (and dance tempo) on distance from dances to known feeders')
    .requiredOption('--observations <file>', 'table of runs, CSV')
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
    .addOption(
      new Option('--runs <which>', 'runs of a dance to use; a dance of fewer than four gives all')
        .choices([...runChoices])
        .default('inner'),
    )
    .option('--seed <number>', 'seed of the draws', wholeOf('--seed', 0, 2 ** 31 - 1), defaultSeed)
    .option('--draws <number>', 'how many draws', wholeOf('--draws', 50, 5000), defaultDraws)
    .requiredOption('--out <file>', 'calibration to write, JSON')
    .option('--figures <folder>', 'folder for figures, HTML and SVG')
    .option('--json', 'print the calibration as JSON')
    .addHelpText('after', example)
    .action(async (options: CalibrateOptions) => {
      const observations = await readObservations(options.observations, 'calibrating');
      const { curve, tempoCurve, runs, reference, seed, draws } = options;
      const record = calibrateObservations(observations, {
        curve,
        tempoCurve,
        runs,
        seed,
        draws,
        ...(reference === undefined ? {} : { reference }),
      });
      await writeCalibration(options.out, record);
      const drawn = await drawFigures(options.figures, 'calibration', () => recordFigures(record));
      process.stdout.write(
        options.json
          ? formatCalibration(record)
          : `${calibrationText(record)}\nWritten: ${options.out}\n${drawn}`,
      );
    });
}
