import { within360 } from '../bearing/angles.ts';
import type { CombPosture } from '../bearing/comb-angle.ts';
import { type AngledRun, danceAngles, danceDirection, givenScatter } from '../bearing/dance-bearing.ts';
import { halfWidthDeg } from '../bearing/direction.ts';
import { pooledRunScatter } from '../bearing/run-scatter.ts';
import { type Site, sunPosition } from '../bearing/sun.ts';
import { chooseRuns, type RunChoice } from '../calibration/runs.ts';
import { InputError } from '../input-error.ts';

/** A run whose comb angle was read. */
export interface RunAngle {
  /** Degrees clockwise from straight up (vertical comb) or from true north (horizontal comb). */
  readonly combAngleDeg: number;
  /** When it was danced, milliseconds since 1970-01-01T00:00Z, as `Date.parse` gives it. */
  readonly instant: number;
}

/** How the bearing of a dance is read. */
export interface DanceBearingOptions {
  /** How the comb stands; default vertical. */
  readonly posture?: CombPosture;
  /** Runs of the dance to use; default `inner`, all but the first and the last. */
  readonly runs?: RunChoice;
  /** Probability of the interval, between 0 and 1; default 0.95. */
  readonly level?: number;
  /** SD of single runs about their dance's mean, degrees; default: what this dance's own runs show. */
  readonly runSdDeg?: number;
}

/** Where one dance points. Degrees clockwise from true north, 0 to 360; null is unknown, why, the flags say. */
export interface DanceBearing {
  readonly bearingDeg: number | null;
  /** Ends of the interval, anticlockwise and clockwise of the bearing: it may pass through north. */
  readonly lowDeg: number | null;
  readonly highDeg: number | null;
  readonly usedRuns: number;
  /** Sun at the middle of the dance, degrees. */
  readonly sunAzimuthDeg: number;
  readonly sunElevationDeg: number;
  readonly flags: readonly string[];
}

/**
 * Bearing of one dance by the sun at the hive, with an interval from the scatter of its runs alone: misdirection,
 * which only dances to known feeders tell of, is for `combtone bearing`.
 *
 * @param runs in the order danced
 * @throws InputError for no runs, an angle or a time that is no number, a level that is not between 0 and 1
 */
export function bearingOfDance(
  hive: Site,
  runs: readonly RunAngle[],
  options: DanceBearingOptions = {},
): DanceBearing {
  const { posture = 'vertical', runs: choice = 'inner', level = 0.95, runSdDeg } = options;
  requireRuns(runs);
  require(level > 0 && level < 1, 'level', level, 'a probability between 0 and 1');
  require(runSdDeg === undefined || runSdDeg > 0, 'runSdDeg', runSdDeg, 'degrees above 0');
  const angles = danceAngles(
    chooseRuns(runs, choice).map(({ combAngleDeg, instant }): AngledRun => {
      const sun = sunPosition(hive, instant);
      return { combAngleDeg, sunAzimuthDeg: sun.azimuthDeg, sunElevationDeg: sun.elevationDeg };
    }),
    posture,
  );
  const scatter = runSdDeg === undefined ? pooledRunScatter([angles]) : givenScatter(runSdDeg);
  const pointed = danceDirection(angles, scatter, null);
  // Half a turn either way is all there is; a hair less keeps the two bounds apart.
  const halfDeg = pointed?.direction ? Math.min(halfWidthDeg(pointed.direction, level), 179.99) : null;
  const bearingDeg = pointed?.bearingDeg ?? null;
  const known = bearingDeg !== null && halfDeg !== null;
  return {
    bearingDeg,
    lowDeg: known ? within360(bearingDeg - halfDeg) : null,
    highDeg: known ? within360(bearingDeg + halfDeg) : null,
    usedRuns: angles.count,
    sunAzimuthDeg: angles.sunAzimuthDeg,
    sunElevationDeg: angles.sunElevationDeg,
    flags: [...angles.flags, ...(pointed?.flags ?? [])],
  };
}

function requireRuns(runs: readonly RunAngle[]): void {
  require(runs.length > 0, 'runs', 'none', 'at least one run with its comb angle');
  for (const [index, { combAngleDeg, instant }] of runs.entries()) {
    const place = `runs, ${index + 1}`;
    require(Number.isFinite(combAngleDeg), place, `combAngleDeg ${combAngleDeg}`, 'degrees');
    require(Number.isFinite(
      instant,
    ), place, `instant ${instant}`, 'milliseconds since 1970, as Date.parse gives');
  }
}

function require(holds: boolean, file: string, found: unknown, wanted: string): void {
  if (!holds) throw new InputError({ file, found: String(found), wanted });
}
