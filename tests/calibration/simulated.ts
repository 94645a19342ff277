import type { CalibrationDance } from '../../src/calibration/calibrate.ts';
import { summariseRuns } from '../../src/calibration/runs.ts';
import { type Random, seededRandom } from '../../src/random.ts';

export interface SimulatedStudy {
  readonly distancesM: readonly number[];
  readonly dancesPerFeeder: number;
  readonly runsPerDance: number;
  readonly betweenDanceSdS: number;
  readonly runSdS: number;
  curve(distanceM: number): number;
}

/** Simulated times of the runs of one dance. */
export function simulatedRuns(study: SimulatedStudy, distanceM: number, random: Random): number[] {
  const danceS = study.curve(distanceM) + study.betweenDanceSdS * random.normal();
  return Array.from({ length: study.runsPerDance }, () => danceS + study.runSdS * random.normal());
}

/** Simulated dances to known feeders, every run of each used. */
export function simulatedDances(study: SimulatedStudy, seed: number): CalibrationDance[] {
  const random = seededRandom(seed);
  return study.distancesM.flatMap((distanceM) =>
    Array.from({ length: study.dancesPerFeeder }, (_, index) => ({
      danceId: `${distanceM}-${index}`,
      beeId: `bee-${index % 5}`,
      distanceM,
      ...summariseRuns(simulatedRuns(study, distanceM, random), 'all')!,
    })),
  );
}
