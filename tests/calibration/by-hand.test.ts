import normal from '@stdlib/stats-base-dists-normal';
import studentT from '@stdlib/stats-base-dists-t';
import { describe, expect, test } from 'vitest';
import type { CalibrationDance } from '../../src/calibration/calibration.ts';
import { compareTreatment } from '../../src/calibration/compare.ts';
import { line } from '../../src/calibration/curves/line.ts';
import { knownBee } from '../../src/calibration/dance-likelihood.ts';
import { distancePosterior, posteriorQuantile } from '../../src/calibration/distance-posterior.ts';
import { neighbourhoods, readingOf } from '../../src/calibration/estimate.ts';
import { identifiable, nestedData } from '../../src/calibration/nested/data.ts';
import { planDesign } from '../../src/calibration/plan.ts';
import { seededRandom } from '../../src/random.ts';
import { calibrated, simulatedDances, steadyColony } from './simulated.ts';

/** A dance of a bee at a distance, all of whose figures are given. */
const danceAt = (
  distanceM: number,
  meanS: number,
  usedRuns: number,
  squaredDeviations: number,
  beeId: string | null = null,
): CalibrationDance => ({
  danceId: `${beeId}-${distanceM}-${meanS}`,
  beeId,
  distanceM,
  meanS,
  usedRuns,
  squaredDeviations,
});

const variance = (values: readonly number[], weights: readonly number[]) => {
  const whole = weights.reduce((sum, weight) => sum + weight, 0);
  const mean = values.reduce((sum, value, i) => sum + weights[i]! * value, 0) / whole;
  return values.reduce((sum, value, i) => sum + weights[i]! * (value - mean) ** 2, 0) / whole;
};

test('where dances differ by their runs alone, errors are those of ordinary least squares on all runs', () => {
  // Three dances of two runs at each of four feeders, by bees not marked: σ² = (Σ squares + Σ n e²)/(N − 2), and the
  // slope's error is σ/√(Σ n (x − x̄)²). The means lie nearer to the line than their runs would make expect.
  const dances = [200, 400, 600, 800].flatMap((distanceM) =>
    [-0.01, 0, 0.01].map((offS) => danceAt(distanceM, 0.3 + 0.001 * distanceM + offS, 2, 0.02)),
  );
  const told = calibrated(dances, 'line', { leaveOut: false, draws: 20 });
  expect(told.components).toEqual({ bee: false, dance: true, growth: false });
  expect(told.scatter.betweenDancesS!.value).toBe(0);
  const sigma = Math.sqrt((12 * 0.02 + 2 * 8 * 0.01 ** 2) / (24 - 2));
  expect(told.scatter.runsNearS.value).toBeCloseTo(sigma, 6);
  const spread = 2 * 3 * (2 * 300 ** 2 + 2 * 100 ** 2);
  expect(told.standardErrors[1]! / (sigma / Math.sqrt(spread))).toBeCloseTo(1, 4);
  expect(told.standardErrors[0]! / (sigma * Math.sqrt(1 / 24 + 500 ** 2 / spread))).toBeCloseTo(1, 4);
});

test('draws may put the time at the hive below nothing: only the slope has to rise', () => {
  const dances = [200, 400, 600, 800].flatMap((distanceM) =>
    [-0.04, 0, 0.04].map((offS) => danceAt(distanceM, 0.001 * distanceM + offS, 2, 0.0005)),
  );
  const told = calibrated(dances, 'line', { leaveOut: false, draws: 400 });
  expect(told.parameters[0]).toBeCloseTo(0, 9);
  const starts = told.draws.map(({ parameters }) => parameters[0]!);
  const below = starts.filter((value) => value < 0).length / starts.length;
  // Half, by symmetry; the share of 400 even if only every fourth draw were a new one is known to 0.05.
  expect(Math.abs(below - 0.5)).toBeLessThan(0.2);
  for (const { parameters } of told.draws) expect(parameters[1]).toBeGreaterThan(0);
});

test('R² counts every used run once: a dance of many runs more than one of few', () => {
  // Many runs near the hive, few far away, and runs that scatter more far away.
  const dances = simulatedDances({ ...steadyColony, danceSdS: 0.05 }, 52).map((dance) =>
    dance.distanceM < 800 ? { ...dance, usedRuns: 20, squaredDeviations: 19 * 0.05 ** 2 } : dance,
  );
  const told = calibrated(dances, 'line', { leaveOut: false, draws: 20 });
  const { parameters, scatter, nearestFeederM, farthestFeederM } = told;
  const runs = dances.map(({ usedRuns }) => usedRuns);
  const ofCurve = variance(
    dances.map(({ distanceM }) => parameters[0]! + parameters[1]! * distanceM),
    runs,
  );
  const all = runs.reduce((sum, count) => sum + count, 0);
  const [nearS, farS] = [scatter.runsNearS.value, scatter.runsFarS.value];
  const ofRuns = dances.reduce((sum, { distanceM, usedRuns }) => {
    const share = (distanceM - nearestFeederM) / (farthestFeederM - nearestFeederM);
    return sum + (usedRuns / all) * (nearS + share * (farS - nearS)) ** 2;
  }, 0);
  const between = scatter.betweenBeesS!.value ** 2 + scatter.betweenDancesS!.value ** 2;
  expect(told.marginalRSquared).toBeCloseTo(ofCurve / (ofCurve + between + ofRuns), 6);
  expect(told.conditionalRSquared).toBeCloseTo((ofCurve + between) / (ofCurve + between + ofRuns), 6);
  // What bees and dances account for are shares of the scatter alone: the curve's rise is none of it.
  expect(told.beeShare).toBeCloseTo(scatter.betweenBeesS!.value ** 2 / (between + ofRuns), 6);
  expect(told.danceShare).toBeCloseTo(between / (between + ofRuns), 6);
});

test('a bee’s deviation is shrunk by what her dances weigh, each by its runs', () => {
  // v = 0.01 + 0.2²/n: 0.02 for four runs, 0.05 for one; weights 50 and 20. h = 0.04/(1 + 0.04·70) = 0.04/3.8,
  // mean h·(50·0.1 + 20·0.2) = 0.36/3.8.
  const curve = (distanceM: number) => 0.2 + 0.001 * distanceM;
  const data = nestedData([
    danceAt(1000, curve(1000), 3, 0, 'other'),
    danceAt(500, curve(500) + 0.1, 4, 0, 'own'),
    danceAt(1000, curve(1000) + 0.2, 1, 0, 'own'),
  ]);
  const variances = { bee: 0.04, dance: 0.01, nearRunSd: 0.2, farRunSd: 0.2 };
  const known = knownBee(line, data, 1, { parameters: [0.2, 0.001], variances });
  expect(known.mean).toBeCloseTo(0.36 / 3.8, 12);
  expect(known.variance).toBeCloseTo(0.04 / 3.8, 12);
});

describe('which components dances can tell apart', () => {
  const at = (distanceM: number, runs: readonly number[], beeId: string | null = null) =>
    runs.map((usedRuns, k) => danceAt(distanceM, k, usedRuns, 0, beeId));
  const told = (...dances: readonly CalibrationDance[][]) => identifiable(nestedData(dances.flat()));

  test('growth wants four runs beyond each dance’s first at two feeders', () => {
    expect(told(at(200, [3, 3]), at(800, [5])).growth).toBe(true);
    expect(told(at(200, [3, 2]), at(800, [5])).growth).toBe(false);
    expect(told(at(200, [9, 9]), at(800, [1, 1])).growth).toBe(false);
  });

  test('bees want two of them, one with two dances; dances want two runs in one', () => {
    expect(told(at(200, [1, 1], 'red'), at(800, [1])).bee).toBe(true);
    expect(told(at(200, [1, 1], 'red'), at(800, [1], 'red')).bee).toBe(false);
    expect(told(at(200, [1], 'red'), at(800, [1], 'blue')).bee).toBe(false);
    expect(told(at(200, [1, 2])).dance).toBe(true);
    expect(told(at(200, [1, 1])).dance).toBe(false);
  });
});

test('a bee is said to own the curve from more than half of the dances on, not from half', () => {
  const dances = simulatedDances({ ...steadyColony, bees: 4 }, 53);
  const named = (count: number) =>
    dances.map((dance, k) => ({ ...dance, beeId: k < count ? 'red' : `bee-${k % 5}` }));
  const warned = (count: number) =>
    calibrated(named(count), 'line', { leaveOut: false, draws: 20 }).warnings.join('\n');
  expect(dances).toHaveLength(32);
  expect(warned(16)).not.toMatch(/mostly hers/);
  expect(warned(17)).toMatch(/Bee red danced 17 of 32 dances/);
});

test('the interval of a bee’s effect has the t of dances less feeders, treatment and bees beyond the first', () => {
  // Three bees, two feeders, once under each: 12 − 2 − 1 − 2 = 7 degrees of freedom, whatever the variances.
  const random = seededRandom(54);
  const dances = ['red', 'blue', 'white'].flatMap((beeId) =>
    [300, 900].flatMap((distanceM) =>
      [false, true].map((treated) => ({
        ...danceAt(distanceM, 0.3 + 0.001 * distanceM + 0.03 * random.normal(), 4, 0.01, beeId),
        treated,
      })),
    ),
  );
  const halfAt = (level: number) => {
    const outcome = compareTreatment(dances, { level, draws: 20, permutations: 5 }, seededRandom(1));
    if (!outcome.ok) throw new Error(outcome.found);
    const { low, high } = outcome.comparison.beeEffects[0]!.shiftS;
    return (high - low) / 2;
  };
  const ratio = studentT.quantile(0.995, 7) / studentT.quantile(0.75, 7);
  expect(halfAt(0.99) / halfAt(0.5)).toBeCloseTo(ratio, 9);
});

describe('reading a dance against a calibration', () => {
  const told = calibrated(simulatedDances(steadyColony, 55), 'line', { leaveOut: false, draws: 20 });
  const sd = (value: number) => ({ value, low: value, high: value });
  const calibration = {
    ...told,
    parameters: [0.3, 0.001],
    scatter: { betweenBeesS: sd(0.03), betweenDancesS: sd(0.04), runsNearS: sd(0.1), runsFarS: sd(0.2) },
  };

  test('a deviation is in SDs of the mean of so many runs', () => {
    const { deviation } = readingOf(calibration, { beeId: null, meanS: 2.3, usedRuns: 4 });
    // Bees and dances 0.03² + 0.04² = 0.05²; four runs 0.1²/4 near and 0.2²/4 far.
    expect(deviation(0)).toBeCloseTo(2 / Math.sqrt(0.05 ** 2 + 0.05 ** 2), 9);
    expect(deviation(3000)).toBeCloseTo(-1 / Math.sqrt(0.05 ** 2 + 0.1 ** 2), 9);
    // Halfway between the feeders at 200 and 1400 m single runs scatter by 0.15 s.
    expect(deviation(800)).toBeCloseTo(1.2 / Math.sqrt(0.05 ** 2 + 0.075 ** 2), 9);
  });
});

test.each([1000.01, 1021, 1083, 1099])(
  'a posterior narrower than the first grid is found whole about %f m',
  (middleM) => {
    // Steps of 100 m over 12 km; the normal of SD 4 m lies between two of them.
    const posterior = distancePosterior((distanceM) => -0.5 * ((distanceM - middleM) / 4) ** 2, {
      nearestM: 0,
      farthestM: 12_000,
    })!;
    for (const share of [0.025, 0.5, 0.975]) {
      expect(Math.abs(posteriorQuantile(posterior, share) - normal.quantile(share, middleM, 4))).toBeLessThan(
        0.05,
      );
    }
  },
);

test('the neighbourhood of a lone near feeder ends at the hive', () => {
  const posterior = {
    distancesM: Float64Array.of(0, 1000),
    density: Float64Array.of(0.001, 0.001),
    cumulative: Float64Array.of(0, 1),
  };
  // Halfway to 500 m is 200 m away, which is behind the hive on the other side.
  const near = neighbourhoods(posterior, [500, 100]);
  expect(near.map(({ feederM, fromM, toM }) => [feederM, fromM, toM])).toEqual([
    [100, 0, 300],
    [500, 300, 700],
  ]);
  expect(near.map(({ probability }) => probability)).toEqual([
    expect.closeTo(0.3, 12),
    expect.closeTo(0.4, 12),
  ]);
});

test('a planned study that cannot be fitted reaches nothing', () => {
  const pilot = calibrated(simulatedDances(steadyColony, 56), 'line', { leaveOut: false, draws: 20 });
  // Two dances: a line wants three.
  const design = { feeders: 2, bees: 1, dances: 1 };
  const options = { distanceM: 700, newRuns: 5, level: 0.95, halfWidthM: 1e6, runs: 5, studies: 4 };
  expect(planDesign(pilot, design, options, seededRandom(1))).toMatchObject({ failed: 4, reached: 0 });
});
