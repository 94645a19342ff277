import type { DistancePrior } from '../calibration/distance-posterior.ts';
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
import { tellOtherTreatments } from './other-treatments.ts';
import { tellStale } from './stale-calibration.ts';

export interface EstimateOptions {
  readonly calibration?: string;
  readonly observations?: string;
  readonly study?: string;
  readonly saved?: string;
  readonly posteriors?: string;
  readonly level: number;
  readonly prior: DistancePrior;
  readonly neighbourhoods?: string;
  readonly out?: string;
  readonly figures?: string;
  readonly json?: boolean;
}

/** A table of runs with the calibration to read them by, or a study. */
export type EstimateSource =
  | { readonly observations: string; readonly calibration: string }
  | { readonly study: string };

/** Estimates distances, and writes and prints them. */
export async function runEstimate(source: EstimateSource, options: EstimateOptions): Promise<void> {
  const { record, by, dances } = await givenOf(source, options);
  const { level, prior } = options;
  const told = estimates(record, dances, level, { prior });
  const rows = told.map(({ row }) => estimateSchema.parse(row));
  const near = neighbourhoodRows(record, told);
  tellOtherTreatments(rows);
  if (options.out !== undefined) await writeTable(options.out, estimateSchema, rows);
  if (options.neighbourhoods !== undefined) {
    await writeTable(options.neighbourhoods, neighbourhoodSchema, near);
  }
  if (options.posteriors !== undefined) {
    await writeTable(options.posteriors, mapPosteriorSchema, posteriorRows(told));
  }
  const drawn = await drawFigures(options.figures, 'posteriors', () =>
    told.flatMap(({ row, estimate }) =>
      estimate === undefined ? [] : (posteriorFigure(row.dance_id, estimate) ?? []),
    ),
  );
  const written = [options.out, options.neighbourhoods, options.posteriors].flatMap((file) =>
    file === undefined ? [] : [`\nWritten: ${file}`],
  );
  const foot = `${written.join('')}${written.length > 0 ? '\n' : ''}${drawn}`;
  process.stdout.write(
    options.json
      ? `${JSON.stringify(rows, null, 2)}\n`
      : `${by}${estimatesText(rows)}\n${neighbourhoodsText(near)}${foot}`,
  );
}

interface Given {
  readonly record: CalibrationRecord;
  /** Words before the table, where the calibration was not named by the call. */
  readonly by: string;
  readonly dances: readonly ObservedDance[];
}

async function givenOf(source: EstimateSource, options: EstimateOptions): Promise<Given> {
  if ('study' in source) return givenOfStudy(source.study, options);
  const record = await readCalibration(source.calibration);
  const { dances } = await readObservations(source.observations, 'estimating');
  return { record, by: '', dances };
}

async function givenOfStudy(folder: string, { calibration, saved, json }: EstimateOptions): Promise<Given> {
  const study = await openStudy(folder, true);
  try {
    const view = studyView(study, await readPlaces(study));
    const { observed, leftOut } = dancesWithoutFeeder(view);
    tellLeftOut(leftOut, json === true);
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
    tellStale(study, saved);
    return { record, by: `By calibration ${name} of the study\n\n`, dances: observed };
  } finally {
    study.store.close();
  }
}
