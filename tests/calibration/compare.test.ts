import normal from '@stdlib/stats-base-dists-normal';
import { describe, expect, test } from 'vitest';
import { type Comparison, compareTreatment, type TreatedDance } from '../../src/calibration/compare.ts';
import { shiftInMetres } from '../../src/calibration/metres.ts';
import { seededRandom } from '../../src/random.ts';
import { calibrated, type SimulatedStudy, simulatedDance, simulatedDances } from './simulated.ts';

const study: SimulatedStudy = {
  distancesM: [300, 600, 1000],
  bees: 6,
  dancesPerFeeder: 2,
  runsPerDance: 5,
  beeSdS: 0.08,
  danceSdS: 0.05,
  runSdS: 0.15,
  curve: (d) => 0.2 + 0.0012 * d,
};

/** Simulated dances, half of each bee's under a treatment that adds a time; or half of the bees'. */
function treated(
  shiftS: number | ((distanceM: number) => number),
  seed: number,
  by: 'dance' | 'bee',
): TreatedDance[] {
  const shiftAt = typeof shiftS === 'number' ? () => shiftS : shiftS;
  const random = seededRandom(seed);
  return Array.from({ length: study.bees }, (_, bee) => {
    const beeS = study.beeSdS * random.normal();
    return study.distancesM.flatMap((distanceM) =>
      [0, 1, 2, 3].map((dance) => {
        const isTreated = by === 'dance' ? dance % 2 === 1 : bee % 2 === 1;
        const { meanS, ...rest } = simulatedDance(study, distanceM, beeS, random);
        const danceId = `${bee}-${distanceM}-${dance}`;
        return {
          danceId,
          beeId: `bee-${bee}`,
          distanceM,
          treated: isTreated,
          meanS: meanS + (isTreated ? shiftAt(distanceM) : 0),
          ...rest,
        };
      }),
    );
  }).flat();
}

const options = { level: 0.95, draws: 150, permutations: 199 };

function compared(dances: readonly TreatedDance[]): Comparison {
  const outcome = compareTreatment(dances, options, seededRandom(1));
  if (!outcome.ok) throw new Error(outcome.found);
  return outcome.comparison;
}

describe('compareTreatment', () => {
  test('finds a simulated shift, within bees and between bees, and is surer within', () => {
    const within = compared(treated(0.15, 3, 'dance'));
    expect(within.shiftS.low).toBeLessThan(0.15);
    expect(within.shiftS.high).toBeGreaterThan(0.15);
    expect(within.pValue).toBe(1 / 200);
    expect(within.shuffled).toBe('dances within bees');
    expect(within.beeEffects).toHaveLength(6);
    expect(within.overBees!.shiftS.value).toBeCloseTo(within.shiftS.value, 2);
    expect(within.overBees!.pValue).toBeLessThan(0.01);

    const between = compared(treated(0.15, 3, 'bee'));
    expect(between.shuffled).toBe('bees');
    expect(between.beeEffects).toEqual([]);
    expect(between.overBees).toBeNull();
    // Six bees can be dealt out in twenty ways, so that no p can be below a tenth.
    expect(between.pValue).toBeGreaterThan(0.05);
    const width = ({ shiftS }: Comparison) => shiftS.high - shiftS.low;
    expect(width(between)).toBeGreaterThan(2 * width(within));
  });

  test('without a shift the test seldom speaks, and the interval mostly holds nothing', () => {
    let spoken = 0;
    let held = 0;
    const studies = 24;
    for (let seed = 100; seed < 100 + studies; seed++) {
      const { pValue, shiftS } = compared(treated(0, seed, 'dance'));
      if (pValue! <= 0.1) spoken++;
      if (shiftS.low <= 0 && shiftS.high >= 0) held++;
    }
    // Binomial(24, 0.1): more than 7 once in a thousand; Binomial(24, 0.95): fewer than 19 as seldom.
    expect(spoken).toBeLessThanOrEqual(7);
    expect(held).toBeGreaterThanOrEqual(19);
  }, 60_000);

  test('tells the shift at each feeder by its own dances, and whether it changes with distance', () => {
    const alike = compared(treated(0.15, 3, 'dance')).byFeeder!;
    expect(alike.feeders.map(({ feederM }) => feederM)).toEqual(study.distancesM);
    for (const { treatedDances, referenceDances, shiftS } of alike.feeders) {
      expect([treatedDances, referenceDances]).toEqual([12, 12]);
      expect(shiftS.low).toBeLessThan(0.15);
      expect(shiftS.high).toBeGreaterThan(0.15);
    }
    const { likelihoodRatio, pValue } = alike.change!;
    expect(pValue).toBeGreaterThan(0.05);
    // χ² with one degree of freedom is a normal squared, and as unlikely on either side of nothing.
    expect(normal.quantile(1 - pValue / 2, 0, 1) ** 2).toBeCloseTo(likelihoodRatio, 6);

    // 0.06, 0.12 and 0.2 s: by the one shift for all, about 0.13 s, the near and the far feeder are told wrong.
    const growing = compared(treated((distanceM) => 0.0003 * distanceM - 0.03, 3, 'dance'));
    const [near, , far] = growing.byFeeder!.feeders;
    expect(near!.shiftS.high).toBeLessThan(far!.shiftS.low);
    expect(near!.shiftS.low).toBeLessThan(0.06);
    expect(near!.shiftS.high).toBeGreaterThan(0.06);
    expect(far!.shiftS.low).toBeLessThan(0.27);
    expect(far!.shiftS.high).toBeGreaterThan(0.27);
    expect(growing.byFeeder!.change!.pValue).toBeLessThan(0.01);
  });

  test('says that a shift changes with distance where none does no oftener than one in twenty times', () => {
    let spoken = 0;
    for (let seed = 200; seed < 240; seed++) {
      if (compared(treated(0.1, seed, 'dance')).byFeeder!.change!.pValue < 0.05) spoken++;
    }
    // Binomial(40, 0.05): more than 7 once in a thousand.
    expect(spoken).toBeLessThanOrEqual(7);
  }, 60_000);

  test('one feeder has no shift of its own beside the one shift', () => {
    const dances = treated(0.1, 5, 'dance').filter(({ distanceM }) => distanceM === 600);
    expect(compared(dances).byFeeder).toBeNull();
  });

  test('bees that danced under one treatment, all under the same, change nothing when shuffled: they are not told of', () => {
    const dances = treated(0.1, 5, 'dance');
    const lone = dances[0]!.beeId;
    const kept = dances.filter((dance) => dance.beeId !== lone || !dance.treated);
    expect(compared(kept).shuffled).toBe('dances within bees');
  });

  test('bees that danced under both at different feeders leave nothing to shuffle', () => {
    const dances = treated(0.1, 5, 'dance').map((dance) => ({
      ...dance,
      treated: (dance.distanceM + Number(dance.beeId!.slice(4)) * 100) % 200 === 0,
    }));
    expect(compared(dances).pValue).toBeNull();
  });

  test('no feeder in common, or too few dances: says so', () => {
    const apart = treated(0, 6, 'dance').map((dance) => ({ ...dance, treated: dance.distanceM === 300 }));
    expect(compareTreatment(apart, options, seededRandom(1))).toMatchObject({
      ok: false,
      found: expect.stringMatching(/no feeder danced for both/),
    });
    const two = treated(0, 6, 'dance').slice(0, 2);
    expect(compareTreatment(two, options, seededRandom(1))).toMatchObject({ ok: false });
  });
});

test('a shift of time as metres: over the slope, and never back beyond the hive', () => {
  const line = calibrated(simulatedDances(study, 8), 'line', { leaveOut: false, draws: 50 });
  const [, slope] = line.parameters;
  expect(shiftInMetres(line, 600, [0.12], true)[0]).toBeCloseTo(0.12 / slope, 6);
  expect(shiftInMetres(line, 300, [-5], true)[0]).toBe(-300);
  expect(new Set(shiftInMetres(line, 600, new Array(50).fill(0.12))).size).toBeGreaterThan(40);
});
