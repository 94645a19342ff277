import { degrees, turnDeg, within360 } from './angles.ts';
import { circularSummary, divergencesDeg } from './circular-summary.ts';
import { bearingOfRun, type CombPosture } from './comb-angle.ts';
import { type Direction, sumOfVariances, type VariancePart } from './direction.ts';
import { type DirectionCalibration, misdirectionAt, runVarianceDeg2 } from './misdirection.ts';
import type { RunScatter } from './run-scatter.ts';
import { sunsetElevationDeg, unsafeElevationDeg } from './sun.ts';
import { estimateKappa, resultantOf } from './von-mises.ts';

/** One run of a dance, with the sun at its time. */
export interface AngledRun {
  /** Degrees clockwise from straight up (vertical comb) or from true north (horizontal comb). */
  readonly combAngleDeg: number;
  readonly sunAzimuthDeg: number;
  readonly sunElevationDeg: number;
}

/** The runs of one dance summed up: what they point to, and how they scatter. */
export interface DanceAngles {
  readonly count: number;
  /** Circular mean of the comb angles, degrees in (−180, 180]; null where they cancel out. */
  readonly combAngleDeg: number | null;
  /** Circular mean of where the runs point, degrees; null where they cancel out or the comb is oblique. */
  readonly bearingDeg: number | null;
  /** Mean resultant length of where the runs point. */
  readonly resultantLength: number;
  readonly circularSdDeg: number;
  /** Concentration of this dance's runs, small-sample corrected; null for a single run. */
  readonly kappa: number | null;
  /** Mean of the divergences of successive runs, degrees; null for a single run. */
  readonly meanDivergenceDeg: number | null;
  /** Sun at the middle of the dance. */
  readonly sunAzimuthDeg: number;
  readonly sunElevationDeg: number;
  /** What to beware of. */
  readonly flags: readonly string[];
}

/**
 * Sums up the used runs of a dance, each read by the sun at its own time.
 *
 * @param runs in the order danced; at least one
 */
export function danceAngles(runs: readonly AngledRun[], posture: CombPosture): DanceAngles {
  const combAnglesDeg = runs.map(({ combAngleDeg }) => combAngleDeg);
  const comb = circularSummary(combAnglesDeg);
  // An oblique comb gives no bearings; the scatter of its comb angles stands for theirs.
  const pointed = runs.map(
    ({ combAngleDeg, sunAzimuthDeg }) => bearingOfRun(combAngleDeg, sunAzimuthDeg, posture) ?? combAngleDeg,
  );
  const summary = circularSummary(pointed);
  const divergences = divergencesDeg(combAnglesDeg);
  const middle = runs[Math.floor(runs.length / 2)];
  return {
    count: runs.length,
    combAngleDeg: comb.meanDeg,
    bearingDeg: posture === 'oblique' ? null : summary.meanDeg,
    resultantLength: summary.resultantLength,
    circularSdDeg: summary.standardDeviationDeg,
    kappa: estimateKappa(summary.resultantLength, runs.length),
    meanDivergenceDeg:
      divergences.length === 0
        ? null
        : divergences.reduce((sum, angle) => sum + angle, 0) / divergences.length,
    sunAzimuthDeg: middle.sunAzimuthDeg,
    sunElevationDeg: middle.sunElevationDeg,
    flags: flagsOf(runs, posture, summary.meanDeg === null),
  };
}

function flagsOf(runs: readonly AngledRun[], posture: CombPosture, cancelled: boolean): string[] {
  const flags: string[] = [];
  if (posture === 'oblique') flags.push('oblique comb: the angle cannot be read with certainty');
  if (posture === 'vertical' && runs.some(({ sunElevationDeg }) => sunElevationDeg > unsafeElevationDeg)) {
    flags.push(`sun above ${unsafeElevationDeg}°, near the zenith: its azimuth is unsafe`);
  }
  if (runs.some(({ sunElevationDeg }) => sunElevationDeg < sunsetElevationDeg)) {
    flags.push('sun below the horizon: is the clock right?');
  }
  if (cancelled) flags.push('the runs point every way: no mean');
  return flags;
}

/** Where a dance points, once scatter and misdirection are reckoned with. */
export interface DanceDirection {
  /** null where the spread is not known: single runs and no calibration. */
  readonly direction: Direction | null;
  /** Bearing freed from misdirection, degrees. */
  readonly bearingDeg: number;
  readonly flags: readonly string[];
}

// Farther than this from every comb angle learnt from, a misdirection is guessed rather than known.
const farFromLearntDeg = 45;

/**
 * Direction of a dance's goal. Its variance adds the scatter of the used runs, 1/(κ n R), and, with a
 * directional calibration, the scatter of dances about the misdirection and the fit's own doubt.
 *
 * @param scatter of runs, pooled over dances; null when unknown
 * @returns null where the dance has no mean bearing
 */
export function danceDirection(
  angles: DanceAngles,
  scatter: RunScatter | null,
  calibration: DirectionCalibration | null,
): DanceDirection | null {
  if (angles.bearingDeg === null || angles.combAngleDeg === null) return null;
  const flags: string[] = [];
  const parts: VariancePart[] = [];
  if (scatter !== null) {
    parts.push({
      variance: meanVarianceDeg2(angles, scatter),
      degreesOfFreedom: scatter.degreesOfFreedom,
    });
  }
  let bearingDeg = angles.bearingDeg;
  if (calibration !== null) {
    const misdirection = misdirectionAt(calibration, angles.combAngleDeg);
    bearingDeg = within360(bearingDeg - misdirection.biasDeg);
    parts.push(misdirection.variance);
    if (misdirection.nearestLearntDeg > farFromLearntDeg) {
      flags.push(`no dance to a known feeder within ${farFromLearntDeg}° of this comb angle`);
    }
  }
  if (parts.length === 0) return { direction: null, bearingDeg, flags: ['spread unknown: single runs'] };
  const { variance, degreesOfFreedom } = sumOfVariances(parts);
  return {
    direction: { meanDeg: bearingDeg, scaleDeg: Math.sqrt(variance), degreesOfFreedom },
    bearingDeg,
    flags,
  };
}

/**
 * Variance (degrees²) of a dance's mean direction that comes from the scatter of its runs. A single run has no
 * scatter of its own; it stands at the mean resultant of all.
 */
export function meanVarianceDeg2({ count, resultantLength }: DanceAngles, { kappa }: RunScatter): number {
  return runVarianceDeg2(kappa, count, count === 1 ? resultantOf(kappa) : resultantLength);
}

/** Scatter of runs given as a standard deviation in degrees rather than learnt. */
export function givenScatter(sdDeg: number): RunScatter {
  return { kappa: degrees(1) ** 2 / sdDeg ** 2, degreesOfFreedom: Number.POSITIVE_INFINITY };
}

/** How far a dance points clockwise of a place of known bearing, degrees in (−180, 180]. */
export function deviationDeg(angles: DanceAngles, knownBearingDeg: number): number | null {
  return angles.bearingDeg === null ? null : turnDeg(knownBearingDeg, angles.bearingDeg);
}
