import type { Calibration } from '../calibration/calibration.ts';
import { defaultPrior } from '../calibration/defaults.ts';
import type { DistancePrior } from '../calibration/distance-posterior.ts';
import {
  type DistanceEstimate,
  type Estimator,
  estimateDistance,
  estimatorOf,
} from '../calibration/estimate.ts';
import { type JointEstimator, jointEstimator } from '../calibration/joint-estimate.ts';
import { type RunSummary, summariseRuns } from '../calibration/runs.ts';
import { circuitsPer15s } from '../calibration/tempo.ts';
import { type CalibrationRecord, fromMeasureRecord, type MeasureRecord } from './calibration-record.ts';
import { circuitTimesS, pairedRuns } from './dance-times.ts';
import type { ObservedDance } from './observations.ts';
import { curveWords, isOtherTreatment } from './other-treatment.ts';
import type { EstimateRow } from './tables.ts';

export interface EstimateSettings {
  readonly prior?: DistancePrior;
}

/**
 * Distances of dances by a calibration: from duration and tempo together where the calibration and the dance
 * have both, from one of them otherwise. The runs used are chosen as they were for the calibration.
 *
 * @param level probability of the intervals, between 0 and 1
 * @returns one row per dance, in the dances' order; metres to the centimetre, seconds to the microsecond
 */
export function estimateRows(
  record: CalibrationRecord,
  dances: readonly ObservedDance[],
  level: number,
  settings: EstimateSettings = {},
): EstimateRow[] {
  return estimates(record, dances, level, settings).map(({ row }) => row);
}

/** An estimate as a row, and its posterior. */
export interface Estimated {
  readonly row: EstimateRow;
  /** undefined where nothing was timed that the calibration knows. */
  readonly estimate: DistanceEstimate | undefined;
}

/** As `estimateRows`, with the posteriors. */
export function estimates(
  record: CalibrationRecord,
  dances: readonly ObservedDance[],
  level: number,
  settings: EstimateSettings = {},
): Estimated[] {
  const tell = danceTeller(record, settings);
  return dances.map((dance) => tell(dance, level));
}

/** Estimates dance by dance by one calibration; what all of them share is reckoned once. */
export function danceTeller(
  record: CalibrationRecord,
  { prior = defaultPrior }: EstimateSettings = {},
): (dance: ObservedDance, level: number) => Estimated {
  const tellers = tellersOf(record);
  return (dance, level) => {
    const timed = timesOf(dance, record);
    const told =
      tellers.both !== undefined && timed.duration && timed.tempo ? 'both' : singleOf(tellers, timed);
    if (told === undefined) return { row: unreadRow(dance, timed, level, record), estimate: undefined };
    const { beeId } = dance;
    const { duration = null, tempo = null } = timed;
    const estimate =
      told === 'both'
        ? tellers.both!.estimate(
            { beeId, duration, tempo, paired: pairedRuns(dance, record.settings.runs).paired },
            level,
            prior,
          )
        : estimateDistance(
            tellers[told]!.calibration,
            tellers[told]!.estimator,
            { beeId, ...timed[told]! },
            level,
            prior,
          );
    return { row: readRow(sharedCells(dance, timed, level, record), estimate, sources[told]), estimate };
  };
}

const sources = { both: ['from duration and tempo'], duration: [], tempo: ['from tempo'] } as const;

interface Teller {
  readonly calibration: Calibration;
  readonly estimator: Estimator;
}

interface Tellers {
  readonly duration: Teller | undefined;
  readonly tempo: Teller | undefined;
  readonly both: JointEstimator | undefined;
}

function tellersOf(record: CalibrationRecord): Tellers {
  const teller = (measure: MeasureRecord | null): Teller | undefined => {
    if (measure === null) return undefined;
    const calibration = fromMeasureRecord(measure);
    return { calibration, estimator: estimatorOf(calibration) };
  };
  const duration = teller(record.duration);
  const tempo = teller(record.tempo);
  const { correlation } = record;
  const both =
    duration && tempo && correlation
      ? jointEstimator({
          duration: duration.calibration,
          tempo: tempo.calibration,
          correlations: correlation,
        })
      : undefined;
  return { duration, tempo, both };
}

function singleOf(tellers: Tellers, timed: Timed): 'duration' | 'tempo' | undefined {
  return (['duration', 'tempo'] as const).find((name) => tellers[name] && timed[name]);
}

interface Timed {
  readonly duration: RunSummary | undefined;
  readonly tempo: RunSummary | undefined;
}

function timesOf(dance: ObservedDance, { settings }: CalibrationRecord): Timed {
  return {
    duration: summariseRuns(dance.durationsS, settings.runs),
    tempo: summariseRuns(circuitTimesS(dance), settings.runs),
  };
}

function sharedCells(
  dance: ObservedDance,
  { duration, tempo }: Timed,
  level: number,
  record: CalibrationRecord,
) {
  return {
    dance_id: dance.danceId,
    bee_id: dance.beeId,
    run_count: dance.durationsS.length,
    used_runs: (duration ?? tempo)?.usedRuns ?? 0,
    mean_duration_s: rounded(duration?.meanS ?? null, 6),
    circuits_per_15s: tempo === undefined ? null : rounded(circuitsPer15s(tempo.meanS), 6),
    level,
    treatment: dance.treatment,
    curve_treatment: record.settings.reference,
  };
}

function unreadRow(
  dance: ObservedDance,
  timed: Timed,
  level: number,
  record: CalibrationRecord,
): EstimateRow {
  const note = timed.duration || timed.tempo ? 'not calibrated for what was timed' : 'no run timed';
  const unknown = { distance_m: null, distance_low_m: null, distance_high_m: null, in_range: null };
  return { ...sharedCells(dance, timed, level, record), ...unknown, note };
}

function readRow(
  shared: ReturnType<typeof sharedCells>,
  estimate: DistanceEstimate,
  sources: readonly string[],
): EstimateRow {
  const other = isOtherTreatment(shared) ? [curveWords(shared.curve_treatment)] : [];
  const notes = [...sources, ...other, ...estimate.notes];
  return {
    ...shared,
    distance_m: rounded(estimate.distanceM, 2),
    distance_low_m: rounded(estimate.lowM, 2),
    distance_high_m: rounded(estimate.highM, 2),
    in_range: estimate.inRange,
    note: notes.length === 0 ? null : notes.join('; '),
  };
}

function rounded(value: number | null, decimals: number): number | null {
  return value === null ? null : Math.round(value * 10 ** decimals) / 10 ** decimals;
}
