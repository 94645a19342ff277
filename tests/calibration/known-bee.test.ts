import { expect, test } from 'vitest';
import { posteriorQuantile } from '../../src/calibration/distance-posterior.ts';
import { estimatorOf } from '../../src/calibration/estimate.ts';
import { calibrated, simulatedDances } from './simulated.ts';

/** Simulated: bees differ a great deal, dances and runs hardly. */
const colony = {
  distancesM: [200, 600, 1000, 1400],
  bees: 8,
  dancesPerFeeder: 3,
  runsPerDance: 5,
  beeSdS: 0.15,
  danceSdS: 0.02,
  runSdS: 0.05,
  curve: (distanceM: number) => 0.3 + 0.001 * distanceM,
};

test('a bee of the calibration is read by her own times, and told more narrowly than one not met before', () => {
  const dances = simulatedDances(colony, 31);
  const calibration = calibrated(dances, 'line', { leaveOut: false });
  const estimator = estimatorOf(calibration);
  const [a, b] = calibration.parameters as [number, number];
  for (const beeId of ['bee-0', 'bee-3', 'bee-6', 'bee-7']) {
    const own = dances.filter((dance) => dance.beeId === beeId);
    const deviationS =
      own.reduce((sum, { meanS, distanceM }) => sum + meanS - a - b * distanceM, 0) / own.length;
    const told = (name: string | null) => {
      const dance = { beeId: name, meanS: a + b * 800 + deviationS, usedRuns: 5 };
      const posterior = estimator.posterior(dance)!;
      const at = (probability: number) => posteriorQuantile(posterior, probability);
      return { middleM: at(0.5), widthM: at(0.975) - at(0.025) };
    };
    expect(Math.abs(told(beeId).middleM - 800)).toBeLessThan(15);
    expect(Math.abs(told(null).middleM - (800 + deviationS / b))).toBeLessThan(15);
    expect(told(beeId).widthM).toBeLessThan(0.5 * told(null).widthM);
  }
});
