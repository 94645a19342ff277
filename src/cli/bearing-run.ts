import { givenScatter } from '../bearing/dance-bearing.ts';
import type { RunChoice } from '../calibration/runs.ts';
import { InputError } from '../input-error.ts';
import { type Bearings, bearingsOf } from '../study/bearings.ts';
import { readAngles } from '../study/bearings-observations.ts';
import { bearingSchema } from '../study/bearings-tables.ts';
import { bearingsText } from '../study/bearings-text.ts';
import { writeTable } from '../study/csv.ts';
import type { ClockFindings } from '../study/day/clock-words.ts';
import { type HiveOptions, hivePlace, readFeederPlaces } from '../study/places.ts';
import { studyFindings } from '../study/study-findings.ts';
import { openStudy, readPlaces, siteOf } from '../study/study-folder.ts';
import { studyView } from '../study/study-view.ts';
import { tellClock } from './clock-warning.ts';

export interface BearingOptions extends HiveOptions {
  readonly observations?: string;
  readonly feeders?: string;
  readonly runs: RunChoice;
  readonly runSd?: number;
  readonly level: number;
  readonly out?: string;
  readonly json?: boolean;
}

/** Where the comb angles are: in a table, or noted in a study. */
export type BearingSource = { readonly observations: string } | { readonly study: string };

/** Reads comb angles, and writes and prints the bearings that they tell of. */
export async function runBearing(source: BearingSource, options: BearingOptions): Promise<void> {
  const { bearings, clock } =
    'study' in source
      ? await bearingsOfStudy(source.study, options.level)
      : { bearings: await bearingsOfTable(source.observations, options), clock: null };
  if (options.out !== undefined) await writeTable(options.out, bearingSchema, bearings.rows);
  const written = options.out === undefined ? '' : `\nWritten: ${options.out}\n`;
  process.stdout.write(options.json ? `${jsonOf(bearings, clock)}\n` : `${bearingsText(bearings)}${written}`);
}

async function bearingsOfTable(observations: string, options: BearingOptions): Promise<Bearings> {
  const hive = await hivePlace(options);
  const feeders = options.feeders === undefined ? null : await readFeederPlaces(options.feeders, hive.site);
  const dances = await readAngles(observations, hive, feeders);
  return bearingsOf(dances, feeders ?? [], {
    posture: hive.posture,
    runs: options.runs,
    level: options.level,
    runScatter: options.runSd === undefined ? null : givenScatter(options.runSd),
  });
}

/** Bearings of a study's own dances: one comb angle each, as noted, by what study.json and feeders.csv say. */
async function bearingsOfStudy(
  folder: string,
  level: number,
): Promise<{ bearings: Bearings; clock: ClockFindings }> {
  const study = await openStudy(folder, true);
  try {
    const findings = studyFindings(studyView(study, await readPlaces(study)), level, () => []);
    const clock = tellClock(study, findings);
    const { bearings } = findings;
    if (bearings?.rows.some(({ comb_angle_deg: angle }) => angle !== null)) return { bearings, clock };
    throw new InputError({
      file: folder,
      found:
        siteOf(study.settings) === null
          ? 'a hive without latitude and longitude in study.json'
          : 'no dance by day that has both a clock time and a comb angle',
      wanted: 'coordinates, and comb angles noted on the review page or by combtone study note',
    });
  } finally {
    study.store.close();
  }
}

/** @param clock null where the angles are those of a table */
function jsonOf(
  { rows, runScatter, directionCalibration, knownDances }: Bearings,
  clock: ClockFindings | null,
): string {
  const freedom = (value: number) => (Number.isFinite(value) ? value : null);
  return JSON.stringify(
    {
      bearings: rows,
      run_scatter:
        runScatter === null
          ? null
          : { kappa: runScatter.kappa, degrees_of_freedom: freedom(runScatter.degreesOfFreedom) },
      known_dances: knownDances,
      direction_calibration:
        directionCalibration === null
          ? null
          : {
              dances: directionCalibration.dances,
              forms: directionCalibration.forms.map((form) => ({
                weight: form.weight,
                harmonics: form.order,
                coefficients_deg: form.coefficients,
                log_variance_deg2: form.scatter,
                degrees_of_freedom: form.degreesOfFreedom,
                aicc: form.aicc,
              })),
            },
      clock,
    },
    null,
    2,
  );
}
