import { expect, test } from 'vitest';
import { calibrate } from '../../src/calibration/calibrate.ts';
import { estimateDistance } from '../../src/calibration/estimate.ts';
import { circuitsPer15s, circuitTimeS, tempoCurve } from '../../src/calibration/tempo.ts';

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

test('five circuits in 18 s read as 1316 m (95 % interval 691 to 4376 m), the rule says about 1300 m', () => {
  const dances = rule.map(([distanceM, circuits], index) => ({
    danceId: `simulated-${index}`,
    beeId: null,
    distanceM,
    meanS: circuitTimeS(circuits),
    usedRuns: 1,
    squaredDeviations: 0,
  }));
  const outcome = calibrate(dances, tempoCurve);
  if (!outcome.ok) throw new Error(outcome.found);
  const { distanceM, lowM, highM, inRange } = estimateDistance(outcome.calibration, 18 / 5, 1, 0.95);
  expect(distanceM).toBeGreaterThan(1200);
  expect(distanceM).toBeLessThan(1400);
  // Four points leave two degrees of freedom; the interval is as wide as that is little.
  expect(lowM).toBeCloseTo(691, 0);
  expect(highM).toBeCloseTo(4376, 0);
  expect(inRange).toBe(false);
  const [a, b] = outcome.calibration.parameters;
  expect(circuitsPer15s(a + b * distanceM!)).toBeCloseTo((15 * 5) / 18, 9);
});
