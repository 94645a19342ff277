import studentT from '@stdlib/stats-base-dists-t';
import type { Calibration } from './calibrate.ts';
import { curveNamed } from './curves/registry.ts';
import { type InverseReading, readBackwards } from './inverse.ts';

/** Distance of one dance. null is unknown; why, the notes say. */
export interface DistanceEstimate {
  /** Median (m), at least 0. */
  readonly distanceM: number | null;
  /** Lower bound (m), at least 0. */
  readonly lowM: number | null;
  /** Upper bound (m), or null when it is open. */
  readonly highM: number | null;
  /** Whether the distance lies between the nearest and the farthest feeder. */
  readonly inRange: boolean;
  readonly notes: readonly string[];
}

/** Distances are sought from 0 to here: about as far as foragers fly. */
export const farthestForageM = 12_000;
/** Nearer sources are danced for with round dances, whose runs are hardly to be timed. */
const readableFromM = 100;

/**
 * Variance (s²) of the mean time of a further dance about the fitted curve at a distance: parameters'
 * uncertainty, scatter between dances and scatter of its runs.
 *
 * @param usedRuns number of runs in the mean
 */
export function predictionVariance(calibration: Calibration, distanceM: number, usedRuns: number): number {
  const { covariance, parameters, betweenDanceSdS, runSdS } = calibration;
  const gradient = curveNamed(calibration.curve)!.gradient(distanceM, parameters);
  const ofCurve = gradient.reduce(
    (sum, left, i) => sum + gradient.reduce((row, right, j) => row + left * right * covariance[i][j], 0),
    0,
  );
  return Math.max(ofCurve, 0) + betweenDanceSdS ** 2 + (runSdS ?? 0) ** 2 / usedRuns;
}

/**
 * Distance of a dance from the mean time of its used runs, with the interval whose prediction band (t with
 * the fit's degrees of freedom) holds that mean.
 *
 * @param timeS mean time of the used runs (s): run durations or circuit times, as the calibration's
 * @param usedRuns how many runs that mean is of, at least 1
 * @param level probability of the interval, between 0 and 1
 * @param farthestM end of the search (m)
 */
export function estimateDistance(
  calibration: Calibration,
  timeS: number,
  usedRuns: number,
  level: number,
  farthestM = farthestForageM,
): DistanceEstimate {
  const curve = curveNamed(calibration.curve)!;
  const quantile = studentT.quantile((1 + level) / 2, calibration.degreesOfFreedom);
  const reading = readBackwards(
    {
      value: (distanceM) => curve.value(distanceM, calibration.parameters),
      halfWidth: (distanceM) => quantile * Math.sqrt(predictionVariance(calibration, distanceM, usedRuns)),
    },
    timeS,
    farthestM,
  );
  const { distanceM, lowM, highM } = reading;
  const { nearestFeederM, farthestFeederM } = calibration;
  const inRange = distanceM !== null && distanceM >= nearestFeederM && distanceM <= farthestFeederM;
  return { distanceM, lowM, highM, inRange, notes: notesOn(reading, calibration, inRange, farthestM) };
}

function notesOn(
  { distanceM, highM, position, agrees }: InverseReading,
  { nearestFeederM }: Calibration,
  inRange: boolean,
  farthestM: number,
): string[] {
  if (!agrees) {
    return position === 'below'
      ? ['too near to read', 'shorter than the curve at any distance']
      : [`longer than the curve at any distance up to ${farthestM} m`];
  }
  const notes: string[] = [];
  const near = distanceM !== null && distanceM < Math.min(readableFromM, nearestFeederM);
  if (near) notes.push('too near to read');
  else if (!inRange) notes.push('extrapolated');
  if (position === 'above') notes.push(`longer than the curve expects at any distance up to ${farthestM} m`);
  if (highM === null) notes.push('upper bound open');
  return notes;
}
