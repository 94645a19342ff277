import { InputError } from '../input-error.ts';
import type { CalibrationRecord } from '../study/calibration-record.ts';
import type { ObservedDance } from '../study/observations.ts';
import {
  type CurvePlace,
  calibrateDances,
  calibrationLine,
  calibrationPoints,
  type DanceCalibrationSettings,
  durationCalibration,
} from '../study/study-calibration.ts';

export interface FitTask extends DanceCalibrationSettings {
  readonly observed: readonly ObservedDance[];
  /** Probability of the bands; null where no line is wanted. */
  readonly level: number | null;
}

export type FitResult =
  | {
      readonly ok: true;
      readonly record: CalibrationRecord;
      readonly points: ReturnType<typeof calibrationPoints>;
      readonly line: readonly CurvePlace[];
    }
  /** Errors lose their class between threads: what was wrong with the dances goes as data. */
  | { readonly ok: false; readonly found: string; readonly wanted: string };

/** A fit, in a thread of its own: it takes half a second and more, in which the service must answer others. */
export default function fit({ observed, level, ...settings }: FitTask): FitResult {
  try {
    const record = calibrateDances(observed, settings);
    const calibration = level === null ? null : durationCalibration(record);
    if (calibration === null || level === null) return { ok: true, record, points: [], line: [] };
    const points = calibrationPoints(calibration);
    return { ok: true, record, points, line: calibrationLine(calibration, level) };
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    const { found, wanted } = error.badInput;
    return { ok: false, found, wanted };
  }
}
