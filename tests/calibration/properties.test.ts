import fc from 'fast-check';
import { expect, test } from 'vitest';
import { type CalibrationDance, calibrate } from '../../src/calibration/calibrate.ts';
import { estimateDistance } from '../../src/calibration/estimate.ts';
import { simulatedDances } from './simulated.ts';

const study = {
  distancesM: [100, 300, 600, 1200, 2400],
  dancesPerFeeder: 4,
  runsPerDance: 4,
  betweenDanceSdS: 0.06,
  runSdS: 0.12,
  curve: (distanceM: number) => 0.15 + 2.6 * (1 - Math.exp(-distanceM / 1500)),
};
const seeds = fc.integer({ min: 1, max: 100_000 });
const curveNames = fc.constantFrom('line', 'saturating', 'auto');
const times = fc.double({ min: 0.1, max: 4, noNaN: true });
const runs = { numRuns: 40 };

function calibrated(dances: readonly CalibrationDance[], curve: string) {
  const outcome = calibrate(dances, curve);
  // A saturating curve need not be there in every simulated study.
  return outcome.ok ? outcome.calibration : undefined;
}

function near(found: number | null, wanted: number | null, scale: number): void {
  if (wanted === null) expect(found).toBeNull();
  else expect(Math.abs(found! * scale - wanted)).toBeLessThan(1e-5 * (1 + wanted));
}

test('metres or kilometres do not change the answer', () => {
  fc.assert(
    fc.property(seeds, curveNames, times, (seed, curve, timeS) => {
      const dances = simulatedDances(study, seed);
      const metres = calibrated(dances, curve);
      const kilometres = calibrated(
        dances.map((dance) => ({ ...dance, distanceM: dance.distanceM / 1000 })),
        curve,
      );
      expect(kilometres?.curve).toBe(metres?.curve);
      if (metres === undefined || kilometres === undefined) return;
      const wanted = estimateDistance(metres, timeS, 4, 0.95, 12_000);
      const found = estimateDistance(kilometres, timeS, 4, 0.95, 12);
      near(found.distanceM, wanted.distanceM, 1000);
      near(found.lowM, wanted.lowM, 1000);
      near(found.highM, wanted.highM, 1000);
    }),
    runs,
  );
});

test('more runs never widen the interval', () => {
  fc.assert(
    fc.property(seeds, curveNames, times, fc.integer({ min: 1, max: 20 }), (seed, curve, timeS, used) => {
      const calibration = calibrated(simulatedDances(study, seed), curve);
      if (calibration === undefined) return;
      const few = estimateDistance(calibration, timeS, used, 0.95);
      const many = estimateDistance(calibration, timeS, used + 3, 0.95);
      if (many.lowM === null) return;
      expect(few.lowM).not.toBeNull();
      expect(many.lowM).toBeGreaterThanOrEqual(few.lowM! - 1e-6);
      expect(many.highM ?? Number.POSITIVE_INFINITY).toBeLessThanOrEqual(
        (few.highM ?? Number.POSITIVE_INFINITY) + 1e-6,
      );
      if (many.distanceM !== null) {
        expect(many.distanceM).toBeGreaterThanOrEqual(Math.max(0, many.lowM));
        expect(many.distanceM).toBeLessThanOrEqual(many.highM ?? Number.POSITIVE_INFINITY);
      }
    }),
    runs,
  );
});

test('other names for the bees change nothing', () => {
  fc.assert(
    fc.property(seeds, curveNames, fc.string({ minLength: 1 }), (seed, curve, prefix) => {
      const dances = simulatedDances(study, seed);
      const renamed = dances.map((dance) => ({ ...dance, beeId: `${prefix}${dance.beeId}` }));
      expect(calibrate(renamed, curve)).toEqual(calibrate(dances, curve));
    }),
    runs,
  );
});

test('the order of the dances changes nothing but rounding', () => {
  fc.assert(
    fc.property(seeds, times, (seed, timeS) => {
      const dances = simulatedDances(study, seed);
      const forwards = calibrated(dances, 'auto')!;
      const backwards = calibrated(dances.toReversed(), 'auto')!;
      expect(backwards.curve).toBe(forwards.curve);
      const wanted = estimateDistance(forwards, timeS, 4, 0.9);
      near(estimateDistance(backwards, timeS, 4, 0.9).distanceM, wanted.distanceM, 1);
    }),
    runs,
  );
});
