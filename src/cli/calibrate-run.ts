import type { RunChoice } from '../calibration/runs.ts';
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

export interface CalibrateOptions {
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

/** A table of runs and the file for its calibration, or a study and the name to save under in it. */
export type CalibrateSource =
  | { readonly observations: string; readonly out: string }
  | { readonly study: string; readonly name: string };

/** Calibrates, keeps the calibration, and prints it. */
export async function runCalibrate(source: CalibrateSource, options: CalibrateOptions): Promise<void> {
  const { record, done } =
    'study' in source
      ? await calibrateStudy(source.study, source.name, options)
      : await calibrateTable(source.observations, source.out, options);
  const drawn = await drawFigures(options.figures, 'calibration', () => recordFigures(record));
  process.stdout.write(
    options.json ? formatCalibration(record) : `${calibrationText(record)}\n${done}${drawn}`,
  );
}

interface Calibrated {
  readonly record: CalibrationRecord;
  /** What was kept where, in words. */
  readonly done: string;
}

async function calibrateTable(
  observations: string,
  out: string,
  options: CalibrateOptions,
): Promise<Calibrated> {
  const table = await readObservations(observations, 'calibrating');
  const record = calibrateObservations(table, settingsOf(options));
  await writeCalibration(out, record);
  return { record, done: `Written: ${out}\n` };
}

async function calibrateStudy(folder: string, name: string, options: CalibrateOptions): Promise<Calibrated> {
  const { out } = options;
  const study = await openStudy(folder);
  try {
    const view = studyView(study, await readPlaces(study));
    const { observations, leftOut, passedOver } = observationsOfStudy(view, options.unwatched === true);
    tellLeftOut(leftOut, options.json === true);
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
