import { describe, expect, test } from 'vitest';
import { radians } from '../../src/bearing/angles.ts';
import { danceAngles, danceDirection, deviationDeg, givenScatter } from '../../src/bearing/dance-bearing.ts';
import {
  directionDensity,
  directionOfInterval,
  halfWidthDeg,
  probabilityWithin,
  sumOfVariances,
} from '../../src/bearing/direction.ts';
import { calibrateDirection, type KnownDance, misdirectionAt } from '../../src/bearing/misdirection.ts';
import { kappaOfSd } from '../../src/bearing/von-mises.ts';
import { seededRandom } from '../../src/random.ts';

const simulated = (
  seed: number,
  count: number,
  miss: (angle: number) => number,
  sd: (angle: number) => number,
) => {
  const random = seededRandom(seed);
  return Array.from({ length: count }, (_, k): KnownDance => {
    const combAngleDeg = (360 * k) / count - 180;
    const deviation = miss(combAngleDeg) + sd(combAngleDeg) * random.normal() + 2 * random.normal();
    return { combAngleDeg, deviationDeg: deviation, runVarianceDeg2: 4 };
  });
};

describe('directional calibration from simulated dances to known feeders', () => {
  test('finds misdirection in its harmonics, and the scatter beyond that of the runs', () => {
    const miss = (angle: number) => 3 + 8 * Math.sin(radians(angle)) - 5 * Math.cos(radians(2 * angle));
    const calibration = calibrateDirection(simulated(2, 200, miss, () => 6))!;
    expect(calibration.forms[0].order).toBe(2);
    for (const angle of [-150, -60, 0, 45, 90, 170]) {
      const { biasDeg, danceSdDeg, danceKappa, nearestLearntDeg } = misdirectionAt(calibration, angle);
      expect(Math.abs(biasDeg - miss(angle))).toBeLessThan(3);
      expect(Math.abs(danceSdDeg - 6)).toBeLessThan(1.2);
      expect(danceKappa).toBeCloseTo(kappaOfSd(danceSdDeg), 6);
      expect(nearestLearntDeg).toBeLessThan(1);
    }
  });

  test('forms count by their Akaike weights, exp(−ΔAICc/2) (Burnham & Anderson 2002, section 2.9; from memory)', () => {
    const miss = (angle: number) => 2 * Math.sin(radians(angle));
    const { forms } = calibrateDirection(simulated(12, 30, miss, () => 6))!;
    expect(forms.length).toBeGreaterThan(3);
    expect(forms.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 9);
    for (const { aicc, weight } of forms)
      expect(weight / forms[0]!.weight).toBeCloseTo(Math.exp(-(aicc - forms[0]!.aicc) / 2), 9);
  });

  test('finds scatter that grows sideways', () => {
    const sd = (angle: number) => Math.exp(1.8 - 0.7 * Math.cos(radians(2 * angle)));
    const calibration = calibrateDirection(simulated(5, 240, () => 0, sd))!;
    expect(calibration.forms[0].scatter).toHaveLength(2);
    expect(
      misdirectionAt(calibration, 90).danceSdDeg / misdirectionAt(calibration, 0).danceSdDeg,
    ).toBeGreaterThan(2);
  });

  test('the doubt in the scatter of dances is that in theirs and their runs’ together', () => {
    const calibration = calibrateDirection(
      simulated(
        14,
        40,
        () => 0,
        () => 3,
      ),
    )!;
    const { variance, danceSdDeg } = misdirectionAt(calibration, 20);
    const { forms, meanRunVarianceDeg2 } = calibration;
    expect(meanRunVarianceDeg2).toBe(4);
    const freedom = forms.reduce((sum, { weight, degreesOfFreedom }) => sum + weight * degreesOfFreedom, 0);
    const share = variance.variance / (danceSdDeg ** 2 + 4);
    expect(share).toBeLessThan(1);
    expect(variance.degreesOfFreedom).toBeCloseTo(freedom * share ** 2, 9);
  });

  test('finds nothing where there is nothing', () => {
    const calibration = calibrateDirection(
      simulated(
        7,
        60,
        () => 0,
        () => 0,
      ),
    )!;
    expect(Math.abs(misdirectionAt(calibration, 30).biasDeg)).toBeLessThan(1.5);
    expect(misdirectionAt(calibration, 30).danceSdDeg).toBeLessThan(1.5);
  });

  test('tries no form for which fewer than two dances are left beyond its parameters and one', () => {
    // Two harmonics are five coefficients, and a scatter is a sixth: nine dances have two to spare, eight have one.
    const orders = (count: number) => {
      const dances = simulated(
        3,
        count,
        () => 0,
        () => 6,
      );
      return new Set(calibrateDirection(dances)!.forms.map(({ order }) => order));
    };
    expect(orders(8)).toEqual(new Set([0, 1]));
    expect(orders(9)).toEqual(new Set([0, 1, 2]));
  });

  test('takes a constant where comb angles lie on one side, and says how far the rest is', () => {
    const known = Array.from({ length: 20 }, (_, k) => ({
      combAngleDeg: 10 + k,
      deviationDeg: 5 + (k % 3),
      runVarianceDeg2: 1,
    }));
    const calibration = calibrateDirection(known)!;
    expect(calibration.forms.map(({ order }) => order)).toEqual([0]);
    expect(misdirectionAt(calibration, 20).biasDeg).toBeCloseTo(6, 0);
    expect(misdirectionAt(calibration, -150).nearestLearntDeg).toBe(160);
    expect(calibrateDirection(known.slice(0, 4))).toBeNull();
  });
});

describe('direction', () => {
  const direction = { meanDeg: 350, scaleDeg: 10, degreesOfFreedom: Number.POSITIVE_INFINITY };

  test('a narrow one is the normal; interval and direction are there and back', () => {
    expect(halfWidthDeg(direction, 0.95)).toBeCloseTo(19.6, 2);
    for (const scaleDeg of [0.5, 8, 40, 90]) {
      for (const degreesOfFreedom of [1, 4, 30, Number.POSITIVE_INFINITY]) {
        const one = { meanDeg: 350, scaleDeg, degreesOfFreedom };
        const back = directionOfInterval(350, halfWidthDeg(one, 0.9), 0.9, degreesOfFreedom);
        expect(back.scaleDeg / scaleDeg).toBeCloseTo(1, 3);
      }
    }
  });

  test.each([
    [1, 5],
    [4, 20],
    [30, 100],
    [Number.POSITIVE_INFINITY, 0.5],
  ])(
    'the density with %f degrees of freedom and scale %f° has integral 1 and agrees with the probabilities',
    (degreesOfFreedom, scaleDeg) => {
      const one = { meanDeg: 350, scaleDeg, degreesOfFreedom };
      const density = directionDensity(one);
      const sum = (halfDeg: number) => {
        let total = 0;
        const steps = 40_000;
        for (let k = 0; k < steps; k++) {
          total +=
            density(350 - halfDeg + (2 * halfDeg * (k + 0.5)) / steps - 360) * radians((2 * halfDeg) / steps);
        }
        return total;
      };
      expect(sum(170)).toBeCloseTo(probabilityWithin(one, 170), 3);
      expect(sum(scaleDeg)).toBeCloseTo(probabilityWithin(one, scaleDeg), 3);
      expect(density(10)).toBeCloseTo(density(330), 9);
    },
  );

  test('variances add; the doubt in them goes by Satterthwaite', () => {
    const sum = sumOfVariances([
      { variance: 4, degreesOfFreedom: 8 },
      { variance: 4, degreesOfFreedom: 8 },
    ]);
    expect(sum).toEqual({ variance: 8, degreesOfFreedom: 16 });
    expect(
      sumOfVariances([{ variance: 4, degreesOfFreedom: Number.POSITIVE_INFINITY }]).degreesOfFreedom,
    ).toBe(Number.POSITIVE_INFINITY);
  });
});

describe('one dance', () => {
  const runs = [-42, -38, -40].map((combAngleDeg, k) => ({
    combAngleDeg,
    sunAzimuthDeg: 100 + k,
    sunElevationDeg: 40,
  }));

  test('each run is read by the sun at its own time', () => {
    const angles = danceAngles(runs, 'vertical');
    // 58, 63 and 62 degrees
    expect(angles.bearingDeg).toBeCloseTo(61, 2);
    expect(angles.combAngleDeg).toBeCloseTo(320, 2);
    expect(angles.meanDivergenceDeg).toBe(3);
    expect(angles.flags).toEqual([]);
    expect(deviationDeg(angles, 51)).toBeCloseTo(10, 2);
    expect(danceDirection(angles, null, null)).toMatchObject({
      direction: null,
      flags: [expect.stringMatching(/spread unknown/)],
    });
  });

  test('with a given scatter the mean of three runs has a third of its variance', () => {
    const { direction } = danceDirection(danceAngles(runs, 'vertical'), givenScatter(9), null)!;
    expect(direction!.scaleDeg).toBeCloseTo(9 / Math.sqrt(3), 1);
    expect(direction!.degreesOfFreedom).toBe(Number.POSITIVE_INFINITY);
  });

  test('a single run scatters as all do: about one at their mean resultant length, not as if it agreed with itself', () => {
    const scatter = { kappa: 4, degreesOfFreedom: 20 };
    const scaleOf = (count: number) =>
      danceDirection(danceAngles(runs.slice(0, count), 'vertical'), scatter, null)!.direction!.scaleDeg;
    // I1(4)/I0(4) = 0.8635 (Fisher 1993, appendix A.3; from memory).
    expect(scaleOf(1)).toBeCloseTo(180 / Math.PI / Math.sqrt(4 * 0.8635), 2);
    const { resultantLength } = danceAngles(runs.slice(0, 2), 'vertical');
    expect(scaleOf(2)).toBeCloseTo(180 / Math.PI / Math.sqrt(4 * 2 * resultantLength), 9);
  });

  test('misdirection is taken off, and far from what was learnt that is said', () => {
    const known = simulated(
      9,
      40,
      () => 12,
      () => 3,
    ).filter(({ combAngleDeg }) => Math.abs(combAngleDeg) > 100);
    const calibration = calibrateDirection(known);
    const read = danceDirection(danceAngles(runs, 'vertical'), givenScatter(9), calibration)!;
    expect(Math.abs(read.bearingDeg - 49)).toBeLessThan(2.5);
    expect(read.flags).toEqual([expect.stringMatching(/no dance to a known feeder within 45°/)]);
  });

  test('flags: the sun near the zenith or set, an oblique comb, runs that point every way', () => {
    const withSun = (sunElevationDeg: number) => runs.map((run) => ({ ...run, sunElevationDeg }));
    expect(danceAngles(withSun(80.1), 'vertical').flags).toEqual([expect.stringMatching(/zenith.*unsafe/)]);
    expect(danceAngles(withSun(80.1), 'horizontal').flags).toEqual([]);
    expect(danceAngles(withSun(-2), 'vertical').flags).toEqual([expect.stringMatching(/is the clock right/)]);
    const oblique = danceAngles(runs, 'oblique');
    expect(oblique.bearingDeg).toBeNull();
    expect(oblique.flags).toEqual([expect.stringMatching(/cannot be read with certainty/)]);
    const everyWay = [0, 120, 240].map((combAngleDeg) => ({ ...runs[0], combAngleDeg }));
    expect(danceAngles(everyWay, 'vertical')).toMatchObject({
      bearingDeg: null,
      flags: [expect.stringMatching(/every way/)],
    });
  });
});
