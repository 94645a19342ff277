import { expect, test } from 'vitest';
import { calibrate } from '../../src/calibration/calibrate.ts';
import { estimateDistance, estimatorOf } from '../../src/calibration/estimate.ts';
import { circuitsPer15s, circuitTimeS } from '../../src/calibration/tempo.ts';

/**
 * Common practice, no one source: a quarter minute holds about 10 circuits at 100 m, 8 at 200 m, 6 at 500 m
 * and 5 at 1000 m; and five circuits in 18 s instead of 15 s read as about 1300 m.
 */
const rule = [
  [100, 10],
  [200, 8],
  [500, 6],
  [1000, 5],
] as const;

test('five circuits in 18 s read as about 1300 m, extrapolated, and four points leave much unknown', () => {
  const dances = rule.map(([distanceM, circuits], index) => ({
    danceId: `rule-${index}`,
    beeId: null,
    distanceM,
    meanS: circuitTimeS(circuits),
    usedRuns: 1,
    squaredDeviations: 0,
  }));
  const outcome = calibrate(dances, 'auto');
  if (!outcome.ok) throw new Error(outcome.found);
  const { calibration } = outcome;
  // Four points cannot choose between curves, and the simplest is taken.
  expect(calibration.curve).toBe('line');
  const dance = { beeId: null, meanS: 18 / 5, usedRuns: 1 };
  const { distanceM, lowM, highM, inRange } = estimateDistance(
    calibration,
    estimatorOf(calibration),
    dance,
    0.95,
  );
  expect(distanceM).toBeGreaterThan(1200);
  expect(distanceM).toBeLessThan(1500);
  expect(lowM).toBeLessThan(900);
  expect(highM).toBeGreaterThan(2500);
  expect(inRange).toBe(false);
  const [a, b] = calibration.parameters;
  const straightM = (18 / 5 - a) / b;
  expect(straightM).toBeCloseTo(1316, 0);
  expect(circuitsPer15s(a + b * straightM)).toBeCloseTo((15 * 5) / 18, 9);
});
