import { describe, expect, test } from 'vitest';
import type { Calibration } from '../../src/calibration/calibration.ts';
import { defaultPrior } from '../../src/calibration/defaults.ts';
import { correlate } from '../../src/calibration/joint.ts';
import { type JointCalibration, jointEstimator } from '../../src/calibration/joint-estimate.ts';
import { seededRandom } from '../../src/random.ts';
import { calibrated, simulatedDances } from './simulated.ts';

const colony = {
  distancesM: [200, 600, 1000, 1400],
  bees: 5,
  dancesPerFeeder: 1,
  runsPerDance: 5,
  beeSdS: 0,
  danceSdS: 0,
  runSdS: 0.1,
  curve: (distanceM: number) => 0.2 + 0.001 * distanceM,
};
const sd = (value: number) => ({ value, low: value, high: value });

/** A line that bees and dances keep to, with draws of its level alone (SD 0.1 s); dances of a given number. */
function levelled(seed: number, dances: number): Calibration {
  const told = calibrated(simulatedDances(colony, seed), 'line', { leaveOut: false, draws: 20 });
  const random = seededRandom(seed);
  const variances = { bee: 0, dance: 0, nearRunSd: 0.1, farRunSd: 0.1 };
  return {
    ...told,
    components: { bee: false, dance: false, growth: false },
    scatter: { betweenBeesS: null, betweenDancesS: null, runsNearS: sd(0.1), runsFarS: sd(0.1) },
    draws: Array.from({ length: 4000 }, () => ({
      parameters: [0.2 + 0.1 * random.normal(), 0.001],
      variances,
    })),
    dances: told.dances.slice(0, dances),
  };
}

/** Correlation of the levels of the two curves over the draws as they were paired. */
function levelCorrelation(duration: Calibration, tempo: Calibration, order: readonly number[]): number {
  const pairs = order.map((other, k) => [
    duration.draws[k]!.parameters[0]!,
    tempo.draws[other]!.parameters[0]!,
  ]);
  const mean = (which: number) => pairs.reduce((sum, pair) => sum + pair[which]!, 0) / pairs.length;
  const means = [mean(0), mean(1)];
  const product = (i: number, j: number) =>
    pairs.reduce((sum, pair) => sum + (pair[i]! - means[i]!) * (pair[j]! - means[j]!), 0);
  return product(0, 1) / Math.sqrt(product(0, 0) * product(1, 1));
}

describe('errors of the two curves', () => {
  // The mean of n values and that of m, k of them of the same dances with correlation ρ, correlate as ρ·k/√(n·m).
  test.each([
    [20, 20, 0.6],
    [20, 5, 0.3],
  ])(
    'of %i dances timed and %i with a tempo correlate as runs do, as far as dances have both: %f',
    (n, m, wanted) => {
      const [duration, tempo] = [levelled(61, n), levelled(62, m)];
      const pairs = [{ danceId: duration.dances[0]!.danceId, paired: 5, squares: [1, 0.6, 1] as const }];
      const { runs, tempoDraws } = correlate(duration, tempo, pairs, seededRandom(63));
      expect(runs).toBeCloseTo(0.6, 12);
      // 4000 draws: a correlation of 0.6 is known to 0.01, one of 0.3 to 0.015.
      expect(Math.abs(levelCorrelation(duration, tempo, tempoDraws) - wanted)).toBeLessThan(0.045);
    },
  );
});

describe('a dance whose measures lie far apart', () => {
  const few = (told: Calibration) => ({ ...told, draws: told.draws.slice(0, 100) });
  const [duration, tempo] = [few(levelled(64, 20)), few(levelled(65, 20))];
  const joint: JointCalibration = {
    duration,
    tempo,
    correlations: correlate(duration, tempo, [], seededRandom(66)),
  };
  const estimator = jointEstimator(joint);
  const estimate = (durationS: number, tempoS: number) =>
    estimator.estimate(
      {
        beeId: null,
        duration: { meanS: durationS, usedRuns: 4 },
        tempo: { meanS: tempoS, usedRuns: 4 },
        paired: 4,
      },
      0.95,
      defaultPrior,
    );
  // At the end of the prior, 12 km, the line stands at 12.2 s; at the hive at 0.2 s.

  test('is beyond reach only where both measures are', () => {
    const beyond = 'longer than the curve at any distance up to 12000 m';
    expect(estimate(14, 14).notes).toEqual([beyond]);
    for (const [durationS, tempoS] of [
      [14, 1],
      [1, 14],
      [14, 12.3],
      [12.3, 14],
    ] as const) {
      const { notes, distanceM } = estimate(durationS, tempoS);
      expect(notes).not.toContain(beyond);
      expect(notes).toContain('duration and tempo disagree');
      expect(distanceM).not.toBeNull();
    }
  });

  test('is too near to read at any distance only where both measures are', () => {
    const shorter = 'shorter than the curve at any distance';
    expect(estimate(-1, -1).notes).toContain(shorter);
    // 0.1 s is two SDs below the time at the hive.
    for (const other of [3, 0.1]) {
      expect(estimate(-1, other).notes).not.toContain(shorter);
      expect(estimate(other, -1).notes).not.toContain(shorter);
    }
  });
});

test('the correlation of dances is that of their deviations: of 400 dances drawn with 0.8', () => {
  const random = seededRandom(67);
  const drawn = Array.from({ length: 400 }, () => {
    const first = random.normal();
    return [first, 0.8 * first + 0.6 * random.normal()] as const;
  });
  const scattered = (which: 0 | 1): Calibration => {
    const told = levelled(68, 20);
    return {
      ...told,
      parameters: [0.2, 0.001],
      components: { bee: false, dance: true, growth: false },
      scatter: { betweenBeesS: null, betweenDancesS: sd(0.1), runsNearS: sd(0.01), runsFarS: sd(0.01) },
      dances: drawn.map((deviations, k) => ({
        danceId: `${k}`,
        beeId: null,
        distanceM: 500,
        meanS: 0.7 + 0.1 * deviations[which],
        usedRuns: 4,
        squaredDeviations: 0,
      })),
    };
  };
  const { dances } = correlate(scattered(0), scattered(1), [], random);
  // The standard error is (1 − 0.8²)/√400 = 0.018, the step of the grid 0.08.
  expect(Math.abs(dances.value - 0.8)).toBeLessThan(0.09);
});

test('with curves and scatter known for certain the distance is that of generalised least squares', () => {
  const told = levelled(69, 20);
  const certain = (slope: number, runS: number): Calibration => ({
    ...told,
    parameters: [0.2, slope],
    scatter: { betweenBeesS: null, betweenDancesS: null, runsNearS: sd(runS), runsFarS: sd(runS) },
    draws: [{ parameters: [0.2, slope], variances: { bee: 0, dance: 0, nearRunSd: runS, farRunSd: runS } }],
  });
  const [slopes, runsS, correlation] = [[0.001, 0.002], [0.1, 0.3], 0.8] as const;
  const joint: JointCalibration = {
    duration: certain(slopes[0], runsS[0]),
    tempo: certain(slopes[1], runsS[1]),
    correlations: {
      runs: correlation,
      bees: sd(0),
      dances: sd(0),
      draws: [[0, 0]],
      tempoDraws: [0],
      paired: [],
    },
  };
  // Four runs, all with both: V = [[a, b], [b, c]] / 4, and the two times ask for 730 and 690 m.
  const [a, b, c] = [runsS[0] ** 2 / 4, (correlation * runsS[0] * runsS[1]) / 4, runsS[1] ** 2 / 4];
  const weightOf = (x: readonly [number, number], y: readonly [number, number]) =>
    (c * x[0] * y[0] - b * (x[0] * y[1] + x[1] * y[0]) + a * x[1] * y[1]) / (a * c - b * b);
  const times = [0.73, 1.38] as const;
  const [middleM, sdM] = [
    weightOf(slopes, times) / weightOf(slopes, slopes),
    weightOf(slopes, slopes) ** -0.5,
  ];
  const read = jointEstimator(joint).estimate(
    {
      beeId: null,
      duration: { meanS: 0.2 + times[0], usedRuns: 4 },
      tempo: { meanS: 0.2 + times[1], usedRuns: 4 },
      paired: 4,
    },
    0.95,
    defaultPrior,
  );
  expect(Math.abs(read.distanceM! - middleM)).toBeLessThan(0.01 * sdM);
  expect((read.highM! - read.lowM!) / (2 * 1.959964 * sdM)).toBeCloseTo(1, 2);
});
