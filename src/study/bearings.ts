import { turnDeg, within360 } from '../bearing/angles.ts';
import type { CombPosture } from '../bearing/comb-angle.ts';
import {
  type AngledRun,
  type DanceAngles,
  danceAngles,
  danceDirection,
  deviationDeg,
  meanVarianceDeg2,
} from '../bearing/dance-bearing.ts';
import { halfWidthDeg } from '../bearing/direction.ts';
import { calibrateDirection, type DirectionCalibration, type KnownDance } from '../bearing/misdirection.ts';
import { pooledRunScatter, type RunScatter } from '../bearing/run-scatter.ts';
import { chooseRuns, type RunChoice } from '../calibration/runs.ts';
import type { AngledDance } from './bearings-observations.ts';
import type { BearingRow } from './bearings-tables.ts';
import type { FeederPlace } from './places.ts';

export interface BearingSettings {
  readonly posture: CombPosture;
  readonly runs: RunChoice;
  readonly level: number;
  /** Scatter of single runs, where it is given rather than learnt; null to learn it from the dances. */
  readonly runScatter: RunScatter | null;
}

/** Where dances point, and what was learnt of their scatter on the way. */
export interface Bearings {
  readonly rows: readonly BearingRow[];
  readonly runScatter: RunScatter | null;
  /** Learnt from the dances to known feeders; null where they are too few. */
  readonly directionCalibration: DirectionCalibration | null;
  /** Dances to feeders of known bearing. */
  readonly knownDances: number;
}

interface Read {
  readonly dance: AngledDance;
  /** null where no used run has an angle. */
  readonly angles: DanceAngles | null;
  readonly feederBearingDeg: number | null;
}

/**
 * Bearings of dances. The scatter of runs is learnt from all dances, misdirection and the scatter of dances from
 * those to feeders of known bearing; then each dance gets a bearing with its interval.
 */
export function bearingsOf(
  dances: readonly AngledDance[],
  feeders: readonly FeederPlace[],
  settings: BearingSettings,
): Bearings {
  const bearingOf = new Map(feeders.map(({ feederId, bearingDeg }) => [feederId, bearingDeg]));
  const read = dances.map((dance): Read => {
    const runs = chooseRuns(dance.runs, settings.runs).filter(
      (run): run is AngledRun => run.combAngleDeg !== null,
    );
    return {
      dance,
      angles: runs.length === 0 ? null : danceAngles(runs, settings.posture),
      feederBearingDeg: dance.feederId === null ? null : (bearingOf.get(dance.feederId) ?? null),
    };
  });
  const runScatter =
    settings.runScatter ?? pooledRunScatter(read.flatMap(({ angles }) => (angles === null ? [] : [angles])));
  const known = read.flatMap((one) => knownDance(one, runScatter));
  const directionCalibration = settings.posture === 'vertical' ? calibrateDirection(known) : null;
  return {
    rows: read.map((one) => rowOf(one, runScatter, directionCalibration, settings.level)),
    runScatter,
    directionCalibration,
    knownDances: known.length,
  };
}

function knownDance({ angles, feederBearingDeg }: Read, scatter: RunScatter | null): KnownDance[] {
  if (angles === null || angles.combAngleDeg === null || feederBearingDeg === null) return [];
  const deviation = deviationDeg(angles, feederBearingDeg);
  if (deviation === null) return [];
  return [
    {
      combAngleDeg: angles.combAngleDeg,
      deviationDeg: deviation,
      runVarianceDeg2: scatter === null ? 0 : meanVarianceDeg2(angles, scatter),
    },
  ];
}

function rowOf(
  { dance, angles, feederBearingDeg }: Read,
  scatter: RunScatter | null,
  calibration: DirectionCalibration | null,
  level: number,
): BearingRow {
  const pointed = angles === null ? null : danceDirection(angles, scatter, calibration);
  const direction = pointed?.direction ?? null;
  // Half a turn either way is all there is; a hair less keeps the two bounds apart.
  const halfWidth = direction === null ? null : Math.min(halfWidthDeg(direction, level), 179.99);
  const freedom = direction?.degreesOfFreedom ?? Number.POSITIVE_INFINITY;
  const uncorrected = angles?.bearingDeg ?? null;
  const flags = [
    ...dance.flags,
    ...(angles === null ? ['no comb angle'] : angles.flags),
    ...(pointed?.flags ?? []),
  ];
  const bearing = pointed?.bearingDeg ?? null;
  const bound = (side: number) =>
    bearing === null || halfWidth === null
      ? null
      : within360(rounded(within360(bearing + side * halfWidth), 3)!);
  return {
    dance_id: dance.danceId,
    bee_id: dance.beeId,
    feeder_id: dance.feederId,
    treatment: dance.treatment,
    start_time: dance.startTime,
    run_count: dance.runs.length,
    used_runs: angles?.count ?? 0,
    comb_angle_deg: angles?.combAngleDeg == null ? null : within360(rounded(angles.combAngleDeg, 3)!),
    sun_azimuth_deg: rounded(angles?.sunAzimuthDeg ?? dance.runs[0].sunAzimuthDeg, 4),
    sun_elevation_deg: rounded(angles?.sunElevationDeg ?? dance.runs[0].sunElevationDeg, 4),
    circular_sd_deg: angles === null || angles.count < 2 ? null : rounded(finite(angles.circularSdDeg), 3),
    kappa: rounded(angles?.kappa, 3),
    mean_divergence_deg: rounded(angles?.meanDivergenceDeg, 3),
    misdirection_deg:
      calibration === null || bearing === null || uncorrected === null
        ? null
        : rounded(turnDeg(bearing, uncorrected), 3),
    bearing_deg: bearing === null ? null : within360(rounded(bearing, 3)!),
    bearing_low_deg: bound(-1),
    bearing_high_deg: bound(1),
    level: halfWidth === null ? null : level,
    direction_dof: Number.isFinite(freedom) ? rounded(freedom, 2) : null,
    deviation_deg:
      angles === null || feederBearingDeg === null
        ? null
        : rounded(deviationDeg(angles, feederBearingDeg), 3),
    flags: flags.length === 0 ? null : flags.join('; '),
  };
}

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null);

function rounded(value: number | null | undefined, decimals: number): number | null {
  return value === null || value === undefined
    ? null
    : Math.round(value * 10 ** decimals) / 10 ** decimals + 0;
}
