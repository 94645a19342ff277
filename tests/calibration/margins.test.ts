import studentT from '@stdlib/stats-base-dists-t';
import { describe, expect, test } from 'vitest';
import { compareTreatment } from '../../src/calibration/compare.ts';
import { summarise } from '../../src/calibration/estimate.ts';
import { seededRandom } from '../../src/random.ts';
import { calibrated, simulatedDances, steadyColony } from './simulated.ts';

test('a feeder whose dances are longer than the others tell is missed by as much, with a plus', () => {
  const late = { ...steadyColony, curve: (d: number) => steadyColony.curve(d) + (d === 1400 ? 0.2 : 0) };
  const { leaveOneOut } = calibrated(simulatedDances(late, 41), 'line');
  const { errorS, errorM } = leaveOneOut.find(({ feederM }) => feederM === 1400)!;
  expect(Math.abs(errorS! - 0.2)).toBeLessThan(0.06);
  expect(Math.abs(errorM! - 200)).toBeLessThan(60);
});

test('the mean over bees has the t interval of their own effects, n − 1 in the variance', () => {
  const dances = simulatedDances(steadyColony, 42).map((dance, k) => ({
    ...dance,
    treated: k % 2 === 0,
    meanS: dance.meanS + (k % 2 === 0 ? 0.05 : 0),
  }));
  const settings = { level: 0.9, draws: 50, permutations: 20 };
  const outcome = compareTreatment(dances, settings, seededRandom(1));
  if (!outcome.ok) throw new Error(outcome.found);
  const { beeEffects, overBees } = outcome.comparison;
  const effects = beeEffects.map(({ shiftS }) => shiftS.value);
  expect(effects).toHaveLength(5);
  const mean = effects.reduce((sum, value) => sum + value, 0) / 5;
  const error = Math.sqrt(effects.reduce((sum, value) => sum + (value - mean) ** 2, 0) / 4 / 5);
  expect(overBees!.shiftS.value).toBeCloseTo(mean, 9);
  expect(overBees!.shiftS.high - mean).toBeCloseTo(studentT.quantile(0.95, 4) * error, 9);
  expect(overBees!.pValue).toBeCloseTo(2 * studentT.cdf(-Math.abs(mean) / error, 4), 9);
});

describe('what is said of a posterior', () => {
  const prior = { nearestM: 0, farthestM: 10_000 };
  const reading = { nearestFeederM: 200, farthestFeederM: 9000, deviation: () => 0 };
  /** Flat from 0 to so far. */
  const flatTo = (farM: number) => ({
    distancesM: Float64Array.of(0, farM),
    density: Float64Array.of(1 / farM, 1 / farM),
    cumulative: Float64Array.of(0, 1),
  });
  const notes = (highM: number) => summarise(flatTo(highM / 0.975), reading, 0.95, prior).notes;

  test('an upper bound in the last twentieth of the prior is the prior’s', () => {
    expect(notes(9450)).not.toContain('upper bound is that of the prior');
    expect(notes(9550)).toContain('upper bound is that of the prior');
  });

  test('more than a fifth outside the feeders leans on extrapolation', () => {
    const lean = (farthestFeederM: number) =>
      summarise(flatTo(8000), { ...reading, farthestFeederM }, 0.95, prior).notes;
    // Of 0 to 8000 m, 200 m lie before the nearest feeder.
    expect(lean(6500)).toEqual(['leans on extrapolation']);
    expect(lean(6700)).toEqual([]);
  });
});

test('shares of variance agree: what R² of bees and dances adds is to what is left as they are to the runs', () => {
  const study = { ...steadyColony, beeSdS: 0.08, danceSdS: 0.06 };
  const told = calibrated(simulatedDances(study, 43), 'line', { leaveOut: false });
  const { beeShare, danceShare, marginalRSquared, conditionalRSquared } = told;
  const left = 1 - conditionalRSquared;
  expect((conditionalRSquared - marginalRSquared) / left).toBeCloseTo(danceShare / (1 - danceShare), 6);
  expect(beeShare).toBeGreaterThan(0);
  expect(beeShare).toBeLessThan(danceShare);
});
