import { calibrationNamed, type SavedCalibration, saveCalibration } from '../study/store/calibrations.ts';
import { estimateDance } from '../study/study-calibration.ts';
import { dancesAtFeeders } from '../study/study-observations.ts';
import type { StudyView } from '../study/study-view.ts';
import { observedDance, wholeDance } from '../study/whole-dances.ts';
import type { CalibrationPreview, CalibrationRequest, DanceEstimate, MapQuery, StudyMapView } from './api.ts';
import { notFound, Refusal } from './failures.ts';
import type { FitTask } from './fit-worker.ts';
import type { Fitting } from './fitting.ts';

/** @throws Refusal when the dances cannot be calibrated on; the signal's reason when given up */
async function fitted(fitting: Fitting, task: FitTask, signal?: AbortSignal) {
  const result = await fitting.fit(task, signal);
  if (result.ok) return result;
  throw new Refusal(422, 'not to be calibrated', `found ${result.found}; wanted ${result.wanted}`);
}

/** The curve of the dances asked for, with its bands and residuals. Dance tempo is not looked at. */
export async function previewCalibration(
  view: StudyView,
  fitting: Fitting,
  asked: CalibrationRequest,
  signal: AbortSignal,
): Promise<CalibrationPreview> {
  const { dances, observed, leftOut } = dancesAtFeeders(view, asked.danceIds);
  const { curve: name, runs, level } = asked;
  const timed = observed.map((dance) => ({ ...dance, circuitsPer15s: dance.circuitsPer15s.map(() => null) }));
  const { record, points, line } = await fitted(
    fitting,
    { observed: timed, curve: name, runs, level },
    signal,
  );
  const { curve, formula, parameters, warnings } = record.duration!;
  return {
    curve,
    formula,
    parameters,
    points: points.map((point) => ({ ...point, feederId: dances.get(point.danceId)!.feederId })),
    line: [...line],
    level,
    warnings: [...record.warnings, ...warnings],
    leftOut: [...leftOut],
  };
}

/** Calibrates and saves under a name. */
export async function saveNamedCalibration(
  view: StudyView,
  fitting: Fitting,
  asked: CalibrationRequest & { readonly name: string; readonly reviewer: string },
): Promise<SavedCalibration> {
  const { observed } = dancesAtFeeders(view, asked.danceIds);
  const { name, reviewer, curve, runs } = asked;
  const { record } = await fitted(fitting, { observed, curve, runs, level: null });
  const danceIds = observed.map(({ danceId }) => danceId);
  return saveCalibration(view.study.store, { name, reviewer, danceIds, record });
}

/** The map of the dances asked for. */
export async function mapOf(
  { study }: StudyView,
  fitting: Fitting,
  { day, bee, treatment, weight }: MapQuery,
  signal: AbortSignal,
): Promise<StudyMapView> {
  const filter = { day, beeId: bee, treatment };
  const result = await fitting.map({ folder: study.folder, filter, weight }, signal);
  if (result.ok) return result.view;
  throw new Refusal(422, 'not to be mapped', result.message);
}

/** Distance of a dance by a saved calibration, the newest where none is named. */
export function estimateOf(view: StudyView, danceId: string, level: number, name?: string): DanceEstimate {
  const dance = wholeDance(view, danceId);
  if (dance === null) throw notFound(`dance ${danceId} with a run left`);
  const found = calibrationNamed(view.study.store, name);
  if (found === null) throw notFound(name === undefined ? 'saved calibration' : `calibration ${name}`);
  const observed = observedDance(view, dance);
  if (observed === null) throw notFound(`run left in dance ${danceId}`);
  return { calibration: found.saved.name, estimate: estimateDance(found.record, observed, level) };
}
