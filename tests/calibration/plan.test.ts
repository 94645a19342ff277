import { describe, expect, test } from 'vitest';
import { posteriorQuantile } from '../../src/calibration/distance-posterior.ts';
import { estimatorOf } from '../../src/calibration/estimate.ts';
import { leastHalfWidth, planDesign, simulatedStudy } from '../../src/calibration/plan.ts';
import { seededRandom } from '../../src/random.ts';
import { calibrated, simulatedDances } from './simulated.ts';

const colony = {
  distancesM: [100, 400, 800, 1500],
  bees: 12,
  dancesPerFeeder: 3,
  runsPerDance: 6,
  beeSdS: 0.03,
  danceSdS: 0.03,
  runSdS: 0.1,
  curve: (distanceM: number) => 0.2 + 1.2 * (1 - Math.exp(-distanceM / 700)),
};

describe('a study planned from a simulated pilot that levels off', () => {
  const pilot = calibrated(simulatedDances(colony, 21), 'saturating', { leaveOut: false });
  const asked = { distanceM: 1200, newRuns: 6, level: 0.95 };

  test('the narrowest interval is that of a dance read with curve and scatter known for certain', () => {
    const known = estimatorOf({
      ...pilot,
      draws: [
        {
          parameters: pilot.parameters,
          variances: {
            bee: pilot.scatter.betweenBeesS!.value ** 2,
            dance: pilot.scatter.betweenDancesS!.value ** 2,
            nearRunSd: pilot.scatter.runsNearS.value,
            farRunSd: pilot.scatter.runsFarS.value,
          },
        },
      ],
    });
    const [a, c, lengthM] = pilot.parameters as [number, number, number];
    const meanS = a + c * (1 - Math.exp(-asked.distanceM / lengthM));
    const posterior = known.posterior({ beeId: null, meanS, usedRuns: asked.newRuns })!;
    const halfWidthM = (posteriorQuantile(posterior, 0.975) - posteriorQuantile(posterior, 0.025)) / 2;
    expect(leastHalfWidth(pilot, asked)).toBeCloseTo(halfWidthM, 6);
  });

  test('no simulated study is told more narrowly in the median', () => {
    const design = { feeders: 4, bees: 6, dances: 2 };
    const options = { ...asked, halfWidthM: 400, runs: 6, studies: 6 };
    const planned = planDesign(pilot, design, options, seededRandom(3));
    expect(planned).toMatchObject({ ...design, allDances: 48, failed: 0 });
    expect(planned.halfWidthM).toBeGreaterThan(0.8 * leastHalfWidth(pilot, asked));
    expect(planned.mostlyUnderM).toBeGreaterThanOrEqual(planned.halfWidthM);
  });
});

test('simulated dances have the feeders from the nearest to the farthest, and scatter as bees, dances and runs do', () => {
  const pilot = calibrated(simulatedDances(colony, 22), 'line', { leaveOut: false, draws: 20 });
  const variances = { bee: 0.04 ** 2, dance: 0.03 ** 2, nearRunSd: 0.1, farRunSd: 0.2 };
  const runs = 4;
  const dances = simulatedStudy(
    pilot,
    { feeders: 3, bees: 1500, dances: 2 },
    runs,
    (distanceM) => 0.001 * distanceM,
    variances,
    seededRandom(23),
  );
  expect(dances).toHaveLength(1500 * 3 * 2);
  expect([...new Set(dances.map(({ distanceM }) => distanceM))]).toEqual([100, 800, 1500]);
  for (const [distanceM, runS] of [
    [100, 0.1],
    [800, 0.15],
    [1500, 0.2],
  ] as const) {
    const own = dances.filter((dance) => dance.distanceM === distanceM);
    const mean = (of: (dance: (typeof own)[number]) => number) =>
      own.reduce((sum, dance) => sum + of(dance), 0) / own.length;
    const wanted = variances.bee + variances.dance + runS ** 2 / runs;
    // 3000 dances, two of each bee: a variance is known to some 3 %.
    expect(Math.abs(mean(({ meanS }) => (meanS - 0.001 * distanceM) ** 2) / wanted - 1)).toBeLessThan(0.1);
    expect(mean(({ squaredDeviations }) => squaredDeviations) / ((runs - 1) * runS ** 2)).toBeCloseTo(1, 1);
  }
});
