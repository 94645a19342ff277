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
import type { Dance } from '../study/study-schemas.ts';
import { danceInView, observedDance, type StudyView } from '../study/study-view.ts';
import type { CalibrationPreview, CalibrationRequest, DanceEstimate } from './api.ts';
import { notFound, Refusal } from './failures.ts';

interface Picked {
  readonly dances: ReadonlyMap<string, Dance>;
  readonly observed: readonly ObservedDance[];
  readonly leftOut: readonly { readonly danceId: string; readonly reason: string }[];
}

/** The dances asked for, as calibrating takes them; those that cannot serve are named with the reason. */
function pick(view: StudyView, danceIds: readonly string[]): Picked {
  const dances = new Map<string, Dance>();
  const observed: ObservedDance[] = [];
  const leftOut: { danceId: string; reason: string }[] = [];
  for (const danceId of new Set(danceIds)) {
    const dance = danceInView(view, danceId);
    const seen = dance && observedDance(view, dance);
    if (dance === null || seen === null) {
      leftOut.push({ danceId, reason: 'no run left' });
    } else if (dance.feederConflict.length > 0) {
      leftOut.push({ danceId, reason: `several feeders were open: ${dance.feederConflict.join(', ')}` });
    } else if (dance.feederId === null) {
      leftOut.push({ danceId, reason: 'no feeder' });
    } else if (seen.distanceM === null) {
      leftOut.push({ danceId, reason: `distance of feeder ${dance.feederId} not known` });
    } else {
      dances.set(danceId, dance);
      observed.push(seen);
    }
  }
  return { dances, observed, leftOut };
}

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
  const { dances, observed, leftOut } = pick(view, asked.danceIds);
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
  const { observed } = pick(view, asked.danceIds);
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
