import { describe, expect, test } from 'vitest';
import { apartDeg, turnDeg, within360 } from '../../src/bearing/angles.ts';
import { scaledBesselI } from '../../src/bearing/bessel.ts';
import { circularSummary, divergencesDeg } from '../../src/bearing/circular-summary.ts';
import { pooledRunScatter } from '../../src/bearing/run-scatter.ts';
import {
  estimateKappa,
  greatestKappa,
  kappaOf,
  kappaOfSd,
  resultantOf,
} from '../../src/bearing/von-mises.ts';
import { seededRandom } from '../../src/random.ts';
import { drawVonMises } from './draw-von-mises.ts';

test('the circular SD of two directions θ to either side of their mean is √(−2 ln cos θ): Fisher 1993, section 2.3', () => {
  for (const apart of [1, 20, 60]) {
    const { standardDeviationDeg, resultantLength } = circularSummary([100 - apart, 100 + apart]);
    expect(resultantLength).toBeCloseTo(Math.cos((apart * Math.PI) / 180), 12);
    const sd = Math.sqrt(-2 * Math.log(Math.cos((apart * Math.PI) / 180)));
    expect(standardDeviationDeg).toBeCloseTo((sd * 180) / Math.PI, 6);
  }
});

describe('angles', () => {
  test('within a circle, and turns the short way', () => {
    expect([-90, 0, 360, 725, -1e-20, -360].map(within360)).toEqual([270, 0, 0, 5, 0, 0]);
    expect(turnDeg(350, 10)).toBe(20);
    expect(turnDeg(10, 350)).toBe(-20);
    expect(turnDeg(0, 180)).toBe(180);
    expect(apartDeg(5, 275)).toBe(90);
  });
});

describe('circular mean and spread', () => {
  test('a roulette wheel, Mardia & Jupp 2000, example 2.1 (from memory): mean 51°, R 0.711', () => {
    const { meanDeg, resultantLength } = circularSummary([43, 45, 52, 61, 75, 88, 88, 279, 357]);
    expect(meanDeg).toBeCloseTo(51.1, 1);
    expect(resultantLength).toBeCloseTo(0.711, 3);
  });

  test('Zar, Biostatistical Analysis, example of eight angles (from memory): mean 99°, r 0.82522', () => {
    const { meanDeg, resultantLength } = circularSummary([45, 55, 81, 96, 110, 117, 132, 154]);
    expect(meanDeg).toBeCloseTo(99, 0);
    expect(resultantLength).toBeCloseTo(0.82522, 4);
  });

  test('across north, and where all cancels out', () => {
    expect(circularSummary([350, 10]).meanDeg).toBeCloseTo(0, 9);
    expect(circularSummary([0, 120, 240])).toMatchObject({
      meanDeg: null,
      standardDeviationDeg: Number.POSITIVE_INFINITY,
    });
    expect(circularSummary([77])).toMatchObject({ resultantLength: 1, standardDeviationDeg: 0 });
    expect(() => circularSummary([])).toThrow(RangeError);
  });

  test('divergences of successive runs, 0 to 180 degrees', () => {
    expect(divergencesDeg([350, 10, 190, 100])).toEqual([20, 180, 90]);
    expect(divergencesDeg([5])).toEqual([]);
  });
});

describe('von Mises', () => {
  test('I0 and I1, Abramowitz & Stegun 1964, table 9.8 (from memory)', () => {
    const at = (x: number) => {
      const { order0, order1 } = scaledBesselI(x);
      return [order0 * Math.exp(x), order1 * Math.exp(x)];
    };
    expect(at(0)).toEqual([1, expect.closeTo(0, 15)]);
    expect(at(1)[0]).toBeCloseTo(1.2660658777520084, 12);
    expect(at(1)[1]).toBeCloseTo(0.5651591039924851, 12);
    expect(at(10)[0] / 2815.716628466254).toBeCloseTo(1, 12);
    // e^−x I0(x) ~ (1 + 1/(8x) + 9/(128x²)) / √(2πx)
    const x = 1e5;
    expect((scaledBesselI(x).order0 * Math.sqrt(2 * Math.PI * x)) / (1 + 1 / (8 * x))).toBeCloseTo(1, 9);
  });

  test.each([
    [1, 0.4464],
    [2, 0.69777],
    [10, 0.9486],
  ])(
    'mean resultant length at κ = %d is %f (tables in Mardia & Jupp 2000 and Fisher 1993; from memory)',
    (kappa, length) => {
      expect(resultantOf(kappa)).toBeCloseTo(length, 4);
      expect(kappaOf(resultantOf(kappa))).toBeCloseTo(kappa, 8);
    },
  );

  test('the inverse holds its ends', () => {
    expect(kappaOf(0)).toBe(0);
    expect(kappaOf(1)).toBe(greatestKappa);
    // For narrow spreads κ is one over the variance in radians.
    expect(kappaOfSd(2)).toBeCloseTo(1 / ((2 * Math.PI) / 180) ** 2, -1);
  });

  test('small samples are corrected as Fisher 1993, p. 88, after Best & Fisher 1981', () => {
    const high = kappaOf(0.9);
    expect(estimateKappa(0.9, 5)).toBeCloseTo((4 ** 3 * high) / (5 * 26), 9);
    const low = kappaOf(0.6);
    expect(low).toBeLessThan(2);
    expect(estimateKappa(0.6, 8)).toBeCloseTo(low - 2 / (8 * low), 9);
    expect(estimateKappa(0.1, 4)).toBe(0);
    expect(estimateKappa(0.9, 15)).toBeCloseTo((14 ** 3 * high) / (15 ** 3 + 15), 9);
    expect(estimateKappa(0.9, 16)).toBe(high);
    expect(estimateKappa(1, 1)).toBeNull();
  });

  test('the correction takes most of the bias: samples of 6 with κ = 4', () => {
    const random = seededRandom(21);
    let raw = 0;
    let corrected = 0;
    const samples = 1000;
    for (let k = 0; k < samples; k++) {
      const sample = Array.from({ length: 6 }, () => drawVonMises(random, 200, 4));
      const { resultantLength } = circularSummary(sample);
      raw += kappaOf(resultantLength) / samples;
      corrected += estimateKappa(resultantLength, 6)! / samples;
    }
    expect(raw).toBeGreaterThan(5.5);
    expect(Math.abs(corrected - 4)).toBeLessThan(0.6);
  });

  test.each([0, 0.5, 3, 40])('draws have the mean and resultant length of κ = %f', (kappa) => {
    const random = seededRandom(8);
    const { meanDeg, resultantLength } = circularSummary(
      Array.from({ length: 8000 }, () => drawVonMises(random, 310, kappa)),
    );
    expect(Math.abs(resultantLength - resultantOf(kappa))).toBeLessThan(0.03);
    if (kappa > 0) expect(apartDeg(meanDeg!, 310)).toBeLessThan(4);
  });
});

describe('scatter of runs, pooled over dances', () => {
  test('finds κ without bias from many dances of three runs, where each alone would overrate it', () => {
    const random = seededRandom(3);
    const dances = Array.from({ length: 400 }, () => {
      const mean = random.between(0, 360);
      return circularSummary(Array.from({ length: 3 }, () => drawVonMises(random, mean, 12)));
    });
    const scatter = pooledRunScatter(dances)!;
    expect(scatter.degreesOfFreedom).toBe(800);
    // The standard error of κ is about κ √(2/800).
    expect(Math.abs(scatter.kappa - 12)).toBeLessThan(3 * 12 * Math.sqrt(2 / 800));
  });

  test('single runs tell nothing; runs all alike are not taken as finer than an eye reads', () => {
    expect(pooledRunScatter([{ count: 1, resultantLength: 1 }])).toBeNull();
    expect(pooledRunScatter([{ count: 3, resultantLength: 1 }])!.kappa).toBeCloseTo(3283, 0);
  });
});
