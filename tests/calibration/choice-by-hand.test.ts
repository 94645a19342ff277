import { describe, expect, test } from 'vitest';
import { compareTreatment } from '../../src/calibration/compare.ts';
import { curveNamed } from '../../src/calibration/curves/registry.ts';
import { chooseTrial, type Trial } from '../../src/calibration/fit-candidates.ts';
import { rootMeanSquare } from '../../src/calibration/leave-one-out.ts';
import { scatterOf } from '../../src/calibration/shares.ts';
import { warningsOf } from '../../src/calibration/warnings.ts';
import { seededRandom } from '../../src/random.ts';
import { calibrated, simulatedDances, steadyColony } from './simulated.ts';

test('the root of the mean square counts every feeder, and is unknown where one is', () => {
  expect(rootMeanSquare([1, -7])).toBe(5);
  expect(rootMeanSquare([-3])).toBe(3);
  expect(rootMeanSquare([3, null])).toBeNull();
  expect(rootMeanSquare([])).toBeNull();
});

describe('the curve that is taken', () => {
  /** A curve that was fitted, with a criterion or too few dances for one. */
  const trial = (curve: string, aicc: number | null, fitted = true) =>
    ({
      curve: curveNamed(curve),
      candidate: { curve, aicc },
      ...(fitted ? { ml: {} } : {}),
    }) as unknown as Trial;
  const takenAt = (feeders: number, ...trials: readonly Trial[]) =>
    chooseTrial(trials, feeders)?.candidate.curve;
  const taken = (...trials: readonly Trial[]) => takenAt(6, ...trials);

  test('is the one with the least criterion', () => {
    expect(taken(trial('line', 12), trial('saturating', 10), trial('power', 11))).toBe('saturating');
    expect(taken(trial('line', null), trial('saturating', 10))).toBe('saturating');
  });

  test('is the simplest where two do as well, or none has a criterion', () => {
    expect(taken(trial('line', 10), trial('power', 10))).toBe('line');
    expect(taken(trial('line', null), trial('saturating', null))).toBe('line');
  });

  test('has as many parameters as distances only where no other has support beside it, or there is none', () => {
    const [line, broken] = [trial('line', 12), trial('broken-line', 2.1)];
    expect(takenAt(4, line, trial('broken-line', 1.9))).toBe('broken-line');
    expect(takenAt(4, trial('line', null), trial('broken-line', null))).toBe('line');
    expect(takenAt(5, line, broken)).toBe('broken-line');
    expect(takenAt(4, line, broken)).toBe('line');
    expect(takenAt(4, trial('line', 12, false), broken)).toBe('broken-line');
    expect(takenAt(4, broken)).toBe('broken-line');
    expect(takenAt(2, line)).toBe('line');
  });

  test('is none that could not be fitted', () => {
    expect(taken(trial('line', 1, false), trial('power', 10))).toBe('power');
    expect(taken(trial('line', 1, false))).toBeUndefined();
  });
});

test('a component found to be nothing may be nothing, though no draw is; one found large may be as large', () => {
  const draws = Array.from({ length: 101 }, (_, k) => ({
    parameters: [],
    variances: { bee: ((k + 1) / 100) ** 2, dance: ((k + 1) / 100) ** 2, nearRunSd: 0.1, farRunSd: 0.1 },
  }));
  const variances = { bee: 0, dance: 4, nearRunSd: 0.1, farRunSd: 0.1 };
  const { betweenBeesS, betweenDancesS } = scatterOf(
    { bee: true, dance: true, growth: false },
    variances,
    draws,
  );
  // Draws of 0.01 to 1.01 s: their quantiles of 2.5 and 97.5 % are 0.035 and 0.985 s.
  expect(betweenBeesS).toEqual({ value: 0, low: 0, high: expect.closeTo(0.985, 9) });
  expect(betweenDancesS).toEqual({ value: 2, low: expect.closeTo(0.035, 9), high: 2 });
});

test('a parameter is in doubt under two of its standard errors, the time at the hive never', () => {
  const dances = simulatedDances(steadyColony, 71);
  const told = calibrated(dances, 'line', { leaveOut: false, draws: 20 });
  const slope = told.parameters[1]!;
  const warned = (errorsFromZero: number) =>
    warningsOf({ ...told, standardErrors: [99, slope / errorsFromZero] }, dances);
  expect(warned(1.9)).toEqual(['Parameter b is less than two standard errors from zero.']);
  expect(warned(2.1)).toEqual([]);
});

test('feeders are close together where the farthest is under twice the nearest, or under 200 m from it', () => {
  const dances = simulatedDances(steadyColony, 71);
  const told = calibrated(dances, 'line', { leaveOut: false, draws: 20 });
  const warned = (nearestFeederM: number, farthestFeederM: number) =>
    warningsOf({ ...told, nearestFeederM, farthestFeederM }, dances)
      .join()
      .includes('close together');
  expect(warned(1000, 1900)).toBe(true);
  expect(warned(50, 240)).toBe(true);
  expect(warned(1000, 2000)).toBe(false);
  expect(warned(50, 250)).toBe(false);
});

test('the effect on a bee is as uncertain as her dances on either side are few', () => {
  const random = seededRandom(72);
  // All at one feeder with as many runs, so that each dance weighs the same: errors go as √(1/n + 1/m).
  const numbers = { red: [1, 1], blue: [2, 1], white: [1, 4], green: [3, 3] } as const;
  const dances = Object.entries(numbers).flatMap(([beeId, counts]) =>
    counts.flatMap((count, side) =>
      Array.from({ length: count }, (_, k) => ({
        danceId: `${beeId}-${side}-${k}`,
        beeId,
        distanceM: 500,
        meanS: 0.7 + 0.05 * random.normal(),
        usedRuns: 4,
        squaredDeviations: 0.01,
        treated: side === 0,
      })),
    ),
  );
  const outcome = compareTreatment(dances, { level: 0.95, draws: 20, permutations: 5 }, seededRandom(1));
  if (!outcome.ok) throw new Error(outcome.found);
  const { beeEffects, referenceMeanS } = outcome.comparison;
  const shares = beeEffects.map(({ beeId, shiftS: { low, high } }) => {
    const [treated, reference] = numbers[beeId as keyof typeof numbers];
    return (high - low) / Math.sqrt(1 / treated + 1 / reference);
  });
  expect(shares).toHaveLength(4);
  for (const share of shares) expect(share / shares[0]!).toBeCloseTo(1, 9);
  const reference = dances.filter(({ treated }) => !treated);
  expect(referenceMeanS).toBeCloseTo(reference.reduce((sum, { meanS }) => sum + meanS, 0) / 9, 12);
});
