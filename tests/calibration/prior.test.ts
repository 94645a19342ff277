import { describe, expect, test } from 'vitest';
import { logPrior } from '../../src/calibration/nested/prior.ts';
import { runSdAt } from '../../src/calibration/nested/variances.ts';

describe('the prior of SDs between bees and between dances', () => {
  const runs = { nearRunSd: 0.2, farRunSd: 0.1 };
  const ofBee = (sdS: number) => logPrior({ bee: sdS ** 2, dance: 0, ...runs });
  // 0.35 of the runs' SD where they vary least: docs/methods-calibration.md.
  const scaleS = 0.35 * 0.1;

  test('as a half-Cauchy in the logarithm of the SD, it is as far below its top k times over the scale as under it', () => {
    for (const k of [1.5, 4, 30]) expect(ofBee(scaleS * k)).toBeCloseTo(ofBee(scaleS / k), 9);
    expect(ofBee(scaleS) - ofBee(scaleS * 2)).toBeCloseTo(Math.log((2 ** 2 + 1) / 4), 9);
  });

  test('bees and dances are alike in it, and a component that is left out has no part', () => {
    expect(logPrior({ bee: 0, dance: 0.03 ** 2, ...runs })).toBe(ofBee(0.03));
    expect(logPrior({ bee: 0.03 ** 2, dance: 0.03 ** 2, ...runs })).toBeCloseTo(2 * ofBee(0.03), 12);
  });
});

describe('the SD of runs', () => {
  const near = 0.2;
  test('is a straight line through both ends and beyond', () => {
    const growing = { bee: 0, dance: 0, nearRunSd: 0.1, farRunSd: 0.3 };
    expect([near, 0.6, 1, 1.4].map((reach) => Number(runSdAt(reach, near, growing).toFixed(9)))).toEqual([
      0.1, 0.2, 0.3, 0.4,
    ]);
  });

  test('never falls under a quarter of the lesser of the two', () => {
    const falling = { bee: 0, dance: 0, nearRunSd: 0.4, farRunSd: 0.1 };
    expect(runSdAt(1.15, near, falling)).toBeCloseTo(0.04375, 9);
    expect(runSdAt(3, near, falling)).toBeCloseTo(0.025, 9);
    expect(runSdAt(0, near, { ...falling, nearRunSd: 0.1, farRunSd: 0.9 })).toBeCloseTo(0.025, 9);
  });

  test('is that of the one feeder where there is but one', () => {
    expect(runSdAt(0.5, 1, { bee: 0, dance: 0, nearRunSd: 0.1, farRunSd: 0.3 })).toBe(0.1);
  });
});
