import { describe, expect, test } from 'vitest';
import type { Calibration } from '../../src/calibration/calibration.ts';
import { defaultPrior } from '../../src/calibration/estimate.ts';
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
