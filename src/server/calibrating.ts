import { InputError } from '../input-error.ts';
import type { ObservedDance } from '../study/observations.ts';
import { calibrationNamed, type SavedCalibration, saveCalibration } from '../study/store/calibrations.ts';
import {
  calibrateDances,
  calibrationLine,
  calibrationPoints,
  durationCalibration,
  estimateDance,
} from '../study/study-calibration.ts';
import { dancesAtFeeders } from '../study/study-observations.ts';
import { danceInView, observedDance, type StudyView } from '../study/study-view.ts';
import type { CalibrationPreview, CalibrationRequest, DanceEstimate } from './api.ts';
import { notFound, Refusal } from './failures.ts';

function calibrate(observed: readonly ObservedDance[], { curve, runs }: CalibrationRequest) {
  try {
    return calibrateDances(observed, { curve, runs });
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    const { found, wanted } = error.badInput;
    throw new Refusal(422, 'not to be calibrated', `found ${found}; wanted ${wanted}`);
  }
}

/** The curve of the dances asked for, with its bands and residuals. */
export function previewCalibration(view: StudyView, asked: CalibrationRequest): CalibrationPreview {
  const { dances, observed, leftOut } = dancesAtFeeders(view, asked.danceIds);
  const record = calibrate(observed, asked);
  const calibration = durationCalibration(record)!;
  const { curve, formula, parameters, warnings } = record.duration!;
  return {
    curve,
    formula,
    parameters,
    points: calibrationPoints(calibration).map((point) => ({
      ...point,
      feederId: dances.get(point.danceId)!.feederId,
    })),
    line: calibrationLine(calibration, asked.level),
    level: asked.level,
    warnings: [...record.warnings, ...warnings],
    leftOut: [...leftOut],
  };
}

/** Calibrates and saves under a name. */
export function saveNamedCalibration(
  view: StudyView,
  asked: CalibrationRequest & { readonly name: string; readonly reviewer: string },
): SavedCalibration {
  const { observed } = dancesAtFeeders(view, asked.danceIds);
  const record = calibrate(observed, asked);
  const { name, reviewer } = asked;
  return saveCalibration(view.study.store, {
    name,
    reviewer,
    danceIds: observed.map(({ danceId }) => danceId),
    record,
  });
}

/** Distance of a dance by a saved calibration, the newest where none is named. */
export function estimateOf(view: StudyView, danceId: string, level: number, name?: string): DanceEstimate {
  const dance = danceInView(view, danceId);
  if (dance === null) throw notFound(`dance ${danceId} with a run left`);
  const found = calibrationNamed(view.study.store, name);
  if (found === null) throw notFound(name === undefined ? 'saved calibration' : `calibration ${name}`);
  const observed = observedDance(view, dance);
  if (observed === null) throw notFound(`run left in dance ${danceId}`);
  return { calibration: found.saved.name, estimate: estimateDance(found.record, observed, level) };
}
