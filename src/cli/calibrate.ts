import { type Command, Option } from 'commander';
import { defaultDraws, defaultSeed } from '../calibration/calibrate.ts';
import { curves } from '../calibration/curves/registry.ts';
import { type RunChoice, runChoices } from '../calibration/runs.ts';
import { InputError } from '../input-error.ts';
import { calibrateObservations } from '../study/calibrate-observations.ts';
import { type CalibrationRecord, formatCalibration, writeCalibration } from '../study/calibration-record.ts';
import { calibrationText } from '../study/calibration-text.ts';
import { recordFigures } from '../study/figures/record-figures.ts';
import { readObservations, referenceDances } from '../study/observations.ts';
import { saveCalibration } from '../study/store/calibrations.ts';
import { openStudy, readPlaces } from '../study/study-folder.ts';
import { observationsOfStudy } from '../study/study-observations.ts';
import { studyView } from '../study/study-view.ts';
import { drawFigures } from './figures.ts';
import { tellLeftOut } from './left-out.ts';
import { wholeOf } from './numbers.ts';

interface CalibrateOptions {
  readonly observations?: string;
  readonly study?: string;
  readonly name?: string;
  readonly unwatched?: boolean;
  readonly curve: string;
  readonly reference?: string;
  readonly runs: RunChoice;
  readonly tempoCurve: string;
  readonly seed: number;
  readonly draws: number;
  readonly out?: string;
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
    .addOption(
      new Option('--runs <which>', 'runs of a dance to use; a dance of fewer than four gives all')
        .choices([...runChoices])
        .default('inner'),
    )
    .option('--seed <number>', 'seed of the draws', wholeOf('--seed', 0, 2 ** 31 - 1), defaultSeed)
    .option('--draws <number>', 'how many draws', wholeOf('--draws', 50, 5000), defaultDraws)
    .option('--out <file>', 'calibration to write, JSON; needed without --study')
    .option('--figures <folder>', 'folder for figures, HTML and SVG')
    .option('--json', 'print the calibration as JSON')
    .addHelpText('after', example)
    .action(async (options: CalibrateOptions) => {
      const { record, done } =
        options.study === undefined
          ? await calibrateTable(options)
          : await calibrateStudy(options.study, options);
      const drawn = await drawFigures(options.figures, 'calibration', () => recordFigures(record));
      process.stdout.write(
        options.json ? formatCalibration(record) : `${calibrationText(record)}\n${done}${drawn}`,
      );
    });
}

interface Calibrated {
  readonly record: CalibrationRecord;
  /** What was kept where, in words. */
  readonly done: string;
}

async function calibrateTable(options: CalibrateOptions): Promise<Calibrated> {
  const { observations, out, name } = options;
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
  const table = await readObservations(observations, 'calibrating');
  const record = calibrateObservations(table, settingsOf(options));
  await writeCalibration(out, record);
  return { record, done: `Written: ${out}\n` };
}

async function calibrateStudy(folder: string, options: CalibrateOptions): Promise<Calibrated> {
  const { observations: table, out, name = DEFAULT_NAME } = options;
  if (table !== undefined) {
    throw new InputError({
      file: '--study',
      found: '--observations beside it',
      wanted: 'a study or a table of runs, not both',
    });
  }
  const study = await openStudy(folder);
  try {
    const view = studyView(study, await readPlaces(study));
    const { observations, leftOut, passedOver } = observationsOfStudy(view, options.unwatched === true);
    tellLeftOut(leftOut);
    if (passedOver > 0) {
      process.stderr.write(
        `combtone: passed over, ${passedOver} of the dances: only openings.csv ties them to a feeder, and no bee is named (--unwatched takes them)\n`,
      );
    }
    if (observations.dances.length === 0) {
      throw new InputError({
        file: folder,
        found: 'no dance tied to a feeder of known distance',
        wanted:
          'dances given a feeder by combtone study note or on the review page, or a bee where openings.csv tells the feeder',
      });
    }
    const record = calibrateObservations(observations, settingsOf(options));
    if (out !== undefined) await writeCalibration(out, record);
    const danceIds = referenceDances(observations, options.reference).dances.map(({ danceId }) => danceId);
    saveCalibration(study.store, { name, reviewer: 'combtone calibrate', danceIds, record });
    const written = out === undefined ? '' : `Written: ${out}\n`;
    return {
      record,
      done: `Saved in ${folder} as ${name}\n${written}\nNext: combtone estimate --study ${folder}   distances of the other dances\n`,
    };
  } finally {
    study.store.close();
  }
}

function settingsOf({ curve, tempoCurve, runs, reference, seed, draws }: CalibrateOptions) {
  const named = reference === undefined ? {} : { reference };
  return { curve, tempoCurve, runs, seed, draws, ...named };
}

function nameOf(text: string): string {
  const name = text.trim();
  if (name.length > 0 && name.length <= 120) return name;
  throw new InputError({ file: '--name', found: JSON.stringify(text), wanted: '1 to 120 characters' });
}
