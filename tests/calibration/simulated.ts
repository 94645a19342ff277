import { type CalibrateOptions, calibrate } from '../../src/calibration/calibrate.ts';
import type { Calibration, CalibrationDance } from '../../src/calibration/calibration.ts';
import { type RunSummary, summariseRuns } from '../../src/calibration/runs.ts';
import { type Random, seededRandom } from '../../src/random.ts';

export interface SimulatedStudy {
  readonly distancesM: readonly number[];
  readonly bees: number;
  /** Of each bee at each feeder. */
  readonly dancesPerFeeder: number;
  readonly runsPerDance: number;
  readonly beeSdS: number;
  readonly danceSdS: number;
  readonly runSdS: number;
  curve(distanceM: number): number;
}

/** A colony whose bees and dances differ little; a dance has five runs. */
export const steadyColony: SimulatedStudy = {
  distancesM: [200, 600, 1000, 1400],
  bees: 5,
  dancesPerFeeder: 2,
  runsPerDance: 5,
  beeSdS: 0.03,
  danceSdS: 0.02,
  runSdS: 0.05,
  curve: (distanceM) => 0.3 + 0.001 * distanceM,
};

/** Simulated used runs of one dance by a bee of a given deviation (s), summed up. */
export function simulatedDance(
  study: SimulatedStudy,
  distanceM: number,
  beeS: number,
  random: Random,
): RunSummary {
  const danceS = study.curve(distanceM) + beeS + study.danceSdS * random.normal();
  const runsS = Array.from({ length: study.runsPerDance }, () => danceS + study.runSdS * random.normal());
  return summariseRuns(runsS, 'all')!;
}

/** Simulated dances to known feeders, every run of each used. */
export function simulatedDances(study: SimulatedStudy, seed: number): CalibrationDance[] {
  const random = seededRandom(seed);
  return Array.from({ length: study.bees }, (_, bee) => {
    const beeS = study.beeSdS * random.normal();
    return study.distancesM.flatMap((distanceM) =>
      Array.from({ length: study.dancesPerFeeder }, (_, index) => ({
        danceId: `${bee}-${distanceM}-${index}`,
        beeId: `bee-${bee}`,
        distanceM,
        ...simulatedDance(study, distanceM, beeS, random),
      })),
    );
  }).flat();
}

/** A calibration that must come out. */
export function calibrated(
  dances: readonly CalibrationDance[],
  curve: string,
  options: CalibrateOptions = {},
): Calibration {
  const outcome = calibrate(dances, curve, options);
  if (!outcome.ok) throw new Error(outcome.found);
  return outcome.calibration;
}
