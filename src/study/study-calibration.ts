import normal from '@stdlib/stats-base-dists-normal';
import { quantile } from 'd3-array';
import { timeBeyond } from '../calibration/beyond.ts';
import type { Calibration } from '../calibration/calibration.ts';
import { curveNamed } from '../calibration/curves/registry.ts';
import { runSdAt } from '../calibration/nested/variances.ts';
import type { RunChoice } from '../calibration/runs.ts';
import { medianOf } from '../signal/quantile.ts';
import { calibrateObservations } from './calibrate-observations.ts';
import { type CalibrationRecord, fromMeasureRecord } from './calibration-record.ts';
import { estimateRows } from './estimates.ts';
import type { ObservedDance } from './observations.ts';
import { observationsTable } from './study-observations.ts';
import type { EstimateRow } from './tables.ts';

/** The one place where a study meets the statistics of calibrating. */

export interface DanceCalibrationSettings {
  readonly curve: string;
  readonly runs: RunChoice;
}

/** One place of the curve, with its bands. */
export interface CurvePlace {
  readonly distanceM: number;
  readonly durationS: number;
  readonly confidenceLowS: number;
  readonly confidenceHighS: number;
  readonly predictionLowS: number;
  readonly predictionHighS: number;
}

/**
 * Calibrates on observed dances; those of every treatment, since the caller has picked them. The curve is of their
 * treatment where they share one.
 *
 * @throws InputError when they cannot be calibrated on
 */
export function calibrateDances(
  dances: readonly ObservedDance[],
  { curve, runs }: DanceCalibrationSettings,
): CalibrationRecord {
  const alike = new Set(dances.map(({ treatment }) => treatment)).size === 1;
  const picked = alike ? dances : dances.map((dance) => ({ ...dance, treatment: null }));
  return calibrateObservations(observationsTable('the dances picked', picked), { curve, runs });
}

/** Estimate of one dance. */
export function estimateDance(record: CalibrationRecord, dance: ObservedDance, level: number): EstimateRow {
  return estimateRows(record, [dance], level)[0]!;
}

/** What a fitted curve of run duration is, at each dance: mean, used runs, and distance from the curve, s. */
export function calibrationPoints(calibration: Calibration) {
  const curve = curveNamed(calibration.curve)!;
  return calibration.dances.map(({ danceId, beeId, distanceM, meanS, usedRuns }) => ({
    danceId,
    beeId,
    distanceM,
    meanDurationS: meanS,
    usedRuns,
    residualS: meanS - curve.value(distanceM, calibration.parameters),
  }));
}

/** The calibration of run duration that a record holds. */
export function durationCalibration(record: CalibrationRecord): Calibration | null {
  return record.duration === null ? null : fromMeasureRecord(record.duration);
}

const PLACES = 60;
const BEYOND = 1.2;

/**
 * The curve from 0 m to 1.2 times the farthest feeder, with the band that holds the mean of all bees (equal tails
 * of the posterior draws) and the band that holds the mean of a dance of a bee not met before, of as many used
 * runs as the median dance (equal tails of the normal mixture over the draws).
 *
 * @param level probability of the bands
 */
export function calibrationLine(calibration: Calibration, level: number): CurvePlace[] {
  const { draws, dances, farthestFeederM, nearestFeederM, parameters } = calibration;
  const curve = curveNamed(calibration.curve)!;
  const usedRuns = medianOf(dances.map((dance) => dance.usedRuns));
  return Array.from({ length: PLACES + 1 }, (_, k) => {
    const distanceM = (BEYOND * farthestFeederM * k) / PLACES;
    const means = draws.map((draw) => timeBeyond(curve, draw.parameters, distanceM, farthestFeederM));
    const sds = draws.map(({ variances }) => {
      const runSd = runSdAt(distanceM / farthestFeederM, nearestFeederM / farthestFeederM, variances);
      return Math.sqrt(variances.bee + variances.dance + runSd ** 2 / usedRuns);
    });
    const [low, high] = [(1 - level) / 2, (1 + level) / 2];
    return {
      distanceM,
      durationS: timeBeyond(curve, parameters, distanceM, farthestFeederM),
      confidenceLowS: quantile(means, low)!,
      confidenceHighS: quantile(means, high)!,
      predictionLowS: mixtureQuantile(means, sds, low),
      predictionHighS: mixtureQuantile(means, sds, high),
    };
  });
}

/** Quantile of a mixture of normals in equal parts, by halving, to a tenth of a millisecond. */
function mixtureQuantile(means: readonly number[], sds: readonly number[], share: number): number {
  const reach = Math.abs(normal.quantile(Math.min(share, 1 - share), 0, 1)) + 1;
  let low = Math.min(...means.map((mean, s) => mean - reach * sds[s]!));
  let high = Math.max(...means.map((mean, s) => mean + reach * sds[s]!));
  while (high - low > 1e-4) {
    const middle = (low + high) / 2;
    const below = means.reduce((sum, mean, s) => sum + normal.cdf(middle, mean, sds[s]!), 0) / means.length;
    if (below < share) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
