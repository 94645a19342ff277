import type { RunChoice } from '../calibration/runs.ts';
import { readCalibration } from '../study/calibration-record.ts';
import { compareDefaults } from '../study/compare-defaults.ts';
import { compareObservations } from '../study/compare-observations.ts';
import { comparedDances } from '../study/compare-study.ts';
import { comparisonText } from '../study/comparison-text.ts';
import { writeWhole } from '../study/csv.ts';
import { type Observations, readObservations } from '../study/observations.ts';
import { openStudy, readPlaces } from '../study/study-folder.ts';
import { studyView } from '../study/study-view.ts';
import { tellLeftOut } from './left-out.ts';

export interface CompareOptions {
  readonly observations?: string;
  readonly study?: string;
  readonly calibration?: string;
  readonly reference?: string;
  readonly runs: RunChoice;
  readonly level: number;
  readonly seed: number;
  readonly permutations: number;
  readonly out?: string;
  readonly json?: boolean;
}

/** Where the runs are: in a table, or in a study. */
export type CompareSource = { readonly observations: string } | { readonly study: string };

/** Compares treatments, and writes and prints what they do. */
export async function runCompare(source: CompareSource, options: CompareOptions): Promise<void> {
  const observations = await observationsOf(source, options.json === true);
  const { runs, level, seed, permutations, reference } = options;
  const calibration =
    options.calibration === undefined ? undefined : await readCalibration(options.calibration);
  const report = compareObservations(observations, {
    runs: calibration?.settings.runs ?? runs,
    level,
    seed,
    permutations,
    draws: compareDefaults.draws,
    ...(reference === undefined ? {} : { reference }),
    ...(calibration === undefined ? {} : { calibration }),
  });
  const json = `${JSON.stringify(report, null, 2)}\n`;
  if (options.out !== undefined) await writeWhole(options.out, json);
  const written = options.out === undefined ? '' : `\nWritten: ${options.out}\n`;
  process.stdout.write(options.json ? json : `${comparisonText(report)}${written}`);
}

async function observationsOf(source: CompareSource, nameAll: boolean): Promise<Observations> {
  if ('observations' in source) return readObservations(source.observations, 'calibrating');
  const study = await openStudy(source.study, true);
  try {
    const given = comparedDances(studyView(study, await readPlaces(study)));
    tellLeftOut(given.leftOut, nameAll);
    return given.observations;
  } finally {
    study.store.close();
  }
}
