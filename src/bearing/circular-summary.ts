import { apartDeg, degrees, radians, within360 } from './angles.ts';

/** Mean and spread of directions. */
export interface CircularSummary {
  readonly count: number;
  /** Degrees, 0 to 360; null where the directions cancel out and no mean stands out. */
  readonly meanDeg: number | null;
  /** Mean resultant length: 1 when all directions agree, 0 when they cancel out. */
  readonly resultantLength: number;
  /** Circular standard deviation, degrees; infinite at a resultant length of 0. */
  readonly standardDeviationDeg: number;
}

// Below this the resultant is rounding error of sums of sines and cosines.
const cancelled = 1e-9;

/**
 * Circular mean, mean resultant length R and circular standard deviation √(−2 ln R) of directions in degrees.
 * Formulas: Fisher 1993, Statistical Analysis of Circular Data, section 2.3.
 *
 * @throws RangeError without any direction
 */
export function circularSummary(directionsDeg: readonly number[]): CircularSummary {
  const count = directionsDeg.length;
  if (count === 0) throw new RangeError('no directions to take the mean of');
  let north = 0;
  let east = 0;
  for (const direction of directionsDeg) {
    north += Math.cos(radians(direction));
    east += Math.sin(radians(direction));
  }
  const resultantLength = Math.min(Math.hypot(north, east) / count, 1);
  return {
    count,
    meanDeg: resultantLength < cancelled ? null : within360(degrees(Math.atan2(east, north))),
    resultantLength,
    standardDeviationDeg:
      resultantLength < cancelled
        ? Number.POSITIVE_INFINITY
        : degrees(Math.sqrt(Math.max(-2 * Math.log(resultantLength), 0))),
  };
}

/**
 * Divergence of each run from the run before it: the angle between the two, 0 to 180 degrees; one value fewer
 * than there are runs. Definition: COLOSS BEEBOOK, behavioural studies, 10.3.4.
 */
export function divergencesDeg(runsDeg: readonly number[]): number[] {
  return runsDeg.slice(1).map((run, k) => apartDeg(runsDeg[k], run));
}
