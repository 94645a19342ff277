import { describe, expect, test } from 'vitest';
import { readingOf } from '../../src/calibration/estimate.ts';
import { calibrated, simulatedDances } from './simulated.ts';

const colony = {
  distancesM: [200, 600, 1000, 1400],
  bees: 5,
  dancesPerFeeder: 2,
  runsPerDance: 5,
  beeSdS: 0.03,
  danceSdS: 0.02,
  runSdS: 0.05,
  curve: (distanceM: number) => 0.3 + 0.001 * distanceM,
};

describe('reading a dance against a calibration', () => {
  const told = calibrated(simulatedDances(colony, 55), 'line', { leaveOut: false, draws: 20 });
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
