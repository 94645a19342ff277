import { type Command, Option } from 'commander';
import type { DistancePrior } from '../calibration/distance-posterior.ts';
import { defaultPrior } from '../calibration/estimate.ts';
import { InputError } from '../input-error.ts';
import { type CalibrationRecord, readCalibration } from '../study/calibration-record.ts';
import { estimatesText } from '../study/calibration-text.ts';
import { writeTable } from '../study/csv.ts';
import { estimates } from '../study/estimates.ts';
import { posteriorFigure } from '../study/figures/posterior-figure.ts';
import { mapPosteriorSchema } from '../study/maps-tables.ts';
import { neighbourhoodRows, neighbourhoodSchema, neighbourhoodsText } from '../study/neighbourhoods.ts';
import { type ObservedDance, readObservations } from '../study/observations.ts';
import { posteriorRows } from '../study/posterior-rows.ts';
import { savedCalibration } from '../study/saved-calibration.ts';
import { openStudy, readPlaces } from '../study/study-folder.ts';
import { dancesWithoutFeeder } from '../study/study-observations.ts';
import { studyView } from '../study/study-view.ts';
import { estimateSchema } from '../study/tables.ts';
import { drawFigures } from './figures.ts';
import { tellLeftOut } from './left-out.ts';
import { levelOf, rangeOf } from './numbers.ts';

interface EstimateOptions {
  readonly calibration?: string;
  readonly observations?: string;
  readonly study?: string;
  readonly saved?: string;
  readonly posteriors?: string;
  readonly level: number;
  readonly prior: DistancePrior;
  readonly feeders?: string;
  readonly out?: string;
  readonly figures?: string;
  readonly json?: boolean;
}

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
    .option('--feeders <file>', 'table to write of the probability within each feeder’s neighbourhood, CSV')
    .option('--posteriors <file>', 'table to write of each dance’s posterior, CSV, as combtone map reads it')
    .option('--figures <folder>', 'folder for a figure of each dance’s posterior, HTML and SVG')
    .option('--json', 'print the estimates as JSON')
    .addHelpText('after', example)
    .action(async (options: EstimateOptions) => {
      const { record, by, dances } = await givenOf(options);
      const { level, prior } = options;
      const told = estimates(record, dances, level, { prior });
      const rows = told.map(({ row }) => estimateSchema.parse(row));
      const near = neighbourhoodRows(record, told);
      if (options.out !== undefined) await writeTable(options.out, estimateSchema, rows);
      if (options.feeders !== undefined) await writeTable(options.feeders, neighbourhoodSchema, near);
      if (options.posteriors !== undefined) {
        await writeTable(options.posteriors, mapPosteriorSchema, posteriorRows(told));
      }
      const drawn = await drawFigures(options.figures, 'posteriors', () =>
        told.flatMap(({ row, estimate }) =>
          estimate === undefined ? [] : (posteriorFigure(row.dance_id, estimate) ?? []),
        ),
      );
      const written = [options.out, options.feeders, options.posteriors].flatMap((file) =>
        file === undefined ? [] : [`\nWritten: ${file}`],
      );
      const foot = `${written.join('')}${written.length > 0 ? '\n' : ''}${drawn}`;
      process.stdout.write(
        options.json
          ? `${JSON.stringify(rows, null, 2)}\n`
          : `${by}${estimatesText(rows)}\n${neighbourhoodsText(near)}${foot}`,
      );
    });
}

interface Given {
  readonly record: CalibrationRecord;
  /** Words before the table, where the calibration was not named by the call. */
  readonly by: string;
  readonly dances: readonly ObservedDance[];
}

async function givenOf(options: EstimateOptions): Promise<Given> {
  const { calibration, observations, study, saved } = options;
  if (study !== undefined) return givenOfStudy(study, options);
  const refuse = (file: string, found: string, wanted: string) => new InputError({ file, found, wanted });
  if (observations === undefined) {
    throw refuse('--observations', 'neither it nor --study', 'a table of runs, or a study');
  }
  if (saved !== undefined) throw refuse('--saved', 'no --study beside it', '--study with a study');
  if (calibration === undefined) {
    throw refuse('--calibration', 'nothing', 'a calibration written by combtone calibrate');
  }
  const record = await readCalibration(calibration);
  return { record, by: '', dances: (await readObservations(observations, 'estimating')).dances };
}

async function givenOfStudy(
  folder: string,
  { calibration, observations, saved }: EstimateOptions,
): Promise<Given> {
  const beside = observations !== undefined ? '--observations' : undefined;
  if (beside !== undefined || (saved !== undefined && calibration !== undefined)) {
    throw new InputError({
      file: beside === undefined ? '--saved' : '--study',
      found: `${beside ?? '--calibration'} beside it`,
      wanted: 'one of the two',
    });
  }
  const study = await openStudy(folder, true);
  try {
    const view = studyView(study, await readPlaces(study));
    const { observed, leftOut } = dancesWithoutFeeder(view);
    tellLeftOut(leftOut);
    if (observed.length === 0) {
      throw new InputError({
        file: folder,
        found: 'no dance without a feeder',
        wanted: 'dances of unknown distance',
      });
    }
    if (calibration !== undefined)
      return { record: await readCalibration(calibration), by: '', dances: observed };
    const { name, record } = savedCalibration(study, saved);
    return { record, by: `By calibration ${name} of the study\n\n`, dances: observed };
  } finally {
    study.store.close();
  }
}
