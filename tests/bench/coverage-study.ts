import type { CalibrationDance } from '../../src/calibration/calibration.ts';
import { summariseRuns } from '../../src/calibration/runs.ts';
import type { Random } from '../../src/random.ts';

/** A simulated colony and the study made of it; everything about it is known. */
export interface Truth {
  readonly name: string;
  readonly timeS: (distanceM: number) => number;
  readonly feedersM: readonly number[];
  readonly bees: number;
  readonly beeSdS: number;
  readonly danceSdS: number;
  /** Skewness of single runs' scatter: 0 is normal, 1 that of a gamma of shape 4. */
  readonly skewness: 0 | 1;
  /** Whether each bee dances 2 to 4 times at every feeder, or 2 to 4 times in all. */
  readonly dancesPer: 'feeder' | 'bee';
  /** Whether the dances to be estimated are by bees of the calibration. */
  readonly newDancesBy: 'new bees' | 'known bees';
}

/** SD of single runs (s): 0.14 s growing by 0.025 s per 100 m (CAB abstract 19790209325). */
export const runSdS = (distanceM: number) => 0.14 + 0.00025 * distanceM;
/** The first and the last run of a dance vary more (Couvillon et al. 2012); by how much is assumed here. */
const edgeFactor = 1.25;

/** Runs of one dance by a bee of a given deviation (s), 4 to 10 of them, and the mean of those used. */
export function simulatedDance(truth: Truth, distanceM: number, beeS: number, random: Random) {
  const centreS = truth.timeS(distanceM) + beeS + truth.danceSdS * random.normal();
  const count = 4 + random.below(7);
  const runsS = Array.from({ length: count }, (_, run) => {
    const scatter = truth.skewness === 0 ? random.normal() : (random.gamma(4) - 4) / 2;
    const edge = run === 0 || run === count - 1 ? edgeFactor : 1;
    return centreS + edge * runSdS(distanceM) * scatter;
  });
  return summariseRuns(runsS, 'inner')!;
}

/** A calibration study, and the true deviation (s) of each of its bees. */
export function simulatedStudy(
  truth: Truth,
  random: Random,
): { dances: CalibrationDance[]; beesS: number[] } {
  const beesS = Array.from({ length: truth.bees }, () => truth.beeSdS * random.normal());
  const dances: CalibrationDance[] = [];
  const add = (bee: number, distanceM: number) => {
    const summary = simulatedDance(truth, distanceM, beesS[bee], random);
    dances.push({ danceId: `d${dances.length}`, beeId: `bee-${bee}`, distanceM, ...summary });
  };
  const { feedersM } = truth;
  beesS.forEach((_, bee) => {
    if (truth.dancesPer === 'feeder') {
      for (const distanceM of feedersM) {
        for (let dance = 2 + random.below(3); dance > 0; dance--) add(bee, distanceM);
      }
    } else {
      // Each bee begins at another feeder, so that no feeder goes without dances.
      const first = random.below(feedersM.length);
      const count = 2 + random.below(3);
      for (let dance = 0; dance < count; dance++) add(bee, feedersM[(first + bee + dance) % feedersM.length]);
    }
  });
  return { dances, beesS };
}
