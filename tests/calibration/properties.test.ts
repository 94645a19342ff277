import fc from 'fast-check';
import { expect, test } from 'vitest';
import { calibrate } from '../../src/calibration/calibrate.ts';
import type { CalibrationDance } from '../../src/calibration/calibration.ts';
import { estimateDistance, estimatorOf } from '../../src/calibration/estimate.ts';
import { type SimulatedStudy, simulatedDances } from './simulated.ts';

const study: SimulatedStudy = {
  distancesM: [100, 300, 600, 1200, 2400],
  bees: 5,
  dancesPerFeeder: 1,
  runsPerDance: 4,
  beeSdS: 0.05,
  danceSdS: 0.05,
  runSdS: 0.12,
  curve: (distanceM) => 0.15 + 2.6 * (1 - Math.exp(-distanceM / 1500)),
};
const seeds = fc.integer({ min: 1, max: 100_000 });
const curveNames = fc.constantFrom('line', 'saturating', 'power', 'broken-line', 'auto');
const times = fc.double({ min: 0.4, max: 2.4, noNaN: true });
const runs = { numRuns: 8 };
const patienceMs = 30_000;
const options = { leaveOut: false, draws: 60 };

function calibrated(dances: readonly CalibrationDance[], curve: string) {
  const outcome = calibrate(dances, curve, options);
  // A saturating curve or a break need not be there in every simulated study.
  return outcome.ok ? outcome.calibration : undefined;
}

function told(
  calibration: NonNullable<ReturnType<typeof calibrated>>,
  meanS: number,
  usedRuns = 4,
  scale = 1,
) {
  const prior = { nearestM: 0, farthestM: 12_000 * scale };
  const dance = { beeId: null, meanS, usedRuns };
  const found = estimateDistance(calibration, estimatorOf(calibration), dance, 0.95, prior);
  return { ...found, widthM: found.highM === null ? Number.NaN : found.highM - found.lowM! };
}

function near(found: number | null, wanted: number | null): void {
  if (wanted === null) expect(found).toBeNull();
  else expect(Math.abs(found! - wanted)).toBeLessThan(1e-4 * (1 + wanted));
}

test(
  'metres or kilometres do not change the answer',
  () => {
    fc.assert(
      fc.property(seeds, curveNames, times, (seed, curve, timeS) => {
        const dances = simulatedDances(study, seed);
        const metres = calibrated(dances, curve);
        // A power of two changes no digit, so that what is left to differ is the arithmetic, not the draws.
        const scale = 1 / 1024;
        const scaled = dances.map((dance) => ({ ...dance, distanceM: dance.distanceM * scale }));
        const kilometres = calibrated(scaled, curve);
        expect(kilometres?.curve).toBe(metres?.curve);
        if (metres === undefined || kilometres === undefined) return;
        const wanted = told(metres, timeS);
        // What is readable, 100 m, is no number of the scaled study.
        const found = told(kilometres, timeS, 4, scale);
        if (wanted.distanceM === null) return;
        near(found.distanceM! / scale, wanted.distanceM);
        near(found.lowM! / scale, wanted.lowM);
        near(found.highM! / scale, wanted.highM);
      }),
      runs,
    );
  },
  patienceMs,
);

test(
  'more runs never widen an interval on average',
  () => {
    let few = 0;
    let many = 0;
    fc.assert(
      fc.property(seeds, times, fc.integer({ min: 1, max: 12 }), (seed, timeS, used) => {
        const calibration = calibrated(simulatedDances(study, seed), 'auto');
        if (calibration === undefined) return;
        const narrow = told(calibration, timeS, used + 3).widthM;
        const wide = told(calibration, timeS, used).widthM;
        if (Number.isNaN(narrow + wide)) return;
        few += wide;
        many += narrow;
      }),
      runs,
    );
    expect(many).toBeLessThan(few);
  },
  patienceMs,
);

test(
  'other names for the bees change nothing',
  () => {
    fc.assert(
      fc.property(seeds, curveNames, fc.string({ minLength: 1 }), (seed, curve, prefix) => {
        const dances = simulatedDances(study, seed);
        const renamed = dances.map((dance) => ({ ...dance, beeId: `${prefix}${dance.beeId}` }));
        const found = calibrated(renamed, curve);
        const wanted = calibrated(dances, curve);
        expect({ ...found, dances: [] }).toEqual({ ...wanted, dances: [] });
      }),
      runs,
    );
  },
  patienceMs,
);

test(
  'a feeder told twice under other names changes nothing but the counts',
  () => {
    fc.assert(
      fc.property(seeds, (seed) => {
        // The same place, once more: distances are what is told apart, so the two are one feeder.
        const dances = simulatedDances(study, seed);
        const copied = dances.map((dance) => ({ ...dance, danceId: `again-${dance.danceId}` }));
        const found = calibrated(copied, 'line')!;
        const wanted = calibrated(dances, 'line')!;
        expect(found.parameters).toEqual(wanted.parameters);
        expect(found.counts.feeders).toBe(wanted.counts.feeders);
      }),
      runs,
    );
  },
  patienceMs,
);

test(
  'the order of the dances changes nothing but rounding and chance',
  () => {
    fc.assert(
      fc.property(seeds, times, (seed, timeS) => {
        const dances = simulatedDances(study, seed);
        const forwards = calibrated(dances, 'auto');
        const backwards = calibrated(dances.toReversed(), 'auto');
        expect(backwards?.curve).toBe(forwards?.curve);
        if (forwards === undefined || backwards === undefined) return;
        forwards.parameters.forEach((value, i) => {
          const se = forwards.standardErrors[i];
          expect(Math.abs(backwards.parameters[i] - value)).toBeLessThan(1e-3 * se);
        });
        const wanted = told(forwards, timeS);
        const found = told(backwards, timeS);
        if (wanted.distanceM === null || found.distanceM === null) return;
        expect(Math.abs(found.distanceM - wanted.distanceM)).toBeLessThan(0.3 * wanted.widthM);
      }),
      runs,
    );
  },
  patienceMs,
);
