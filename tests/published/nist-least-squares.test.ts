import { describe, expect, test } from 'vitest';
import { fitLeastSquares } from '../../src/calibration/least-squares.ts';
import type { Model } from '../../src/calibration/linearisation.ts';

/**
 * Source: NIST Statistical Reference Datasets, Nonlinear Regression (NIST/ITL StRD; public domain): data,
 * both published starts, certified parameters, their standard deviations and the residual standard deviation.
 * The fitter is the one that calibrations go through.
 */
interface Certified {
  readonly name: string;
  readonly model: Required<Model>;
  readonly x: readonly number[];
  readonly y: readonly number[];
  readonly starts: readonly (readonly number[])[];
  readonly parameters: readonly number[];
  readonly standardDeviations: readonly number[];
  readonly residualSd: number;
}

/** Digits in which a figure agrees with the certified one: −log10 of the relative error, at most 11. */
function digits(found: number, certified: number): number {
  return Math.min(11, -Math.log10(Math.abs(found - certified) / Math.abs(certified)));
}

const exponentialRise: Required<Model> = {
  value: (x, [b1, b2]) => b1 * (1 - Math.exp(-b2 * x)),
  gradient: (x, [b1, b2]) => [1 - Math.exp(-b2 * x), b1 * x * Math.exp(-b2 * x)],
};

const datasets: readonly Certified[] = [
  {
    name: 'Misra1a',
    model: exponentialRise,
    x: [77.6, 114.9, 141.1, 190.8, 239.9, 289, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760],
    y: [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.4, 75.47, 81.78],
    starts: [
      [500, 0.0001],
      [250, 0.0005],
    ],
    parameters: [2.3894212918e2, 5.5015643181e-4],
    standardDeviations: [2.7070075241, 7.2668688436e-6],
    residualSd: 1.018787633e-1,
  },
  {
    name: 'BoxBOD',
    model: exponentialRise,
    x: [1, 2, 3, 5, 7, 10],
    y: [109, 149, 149, 191, 213, 224],
    starts: [
      [1, 1],
      [100, 0.75],
    ],
    parameters: [2.1380940889e2, 5.4723748542e-1],
    standardDeviations: [1.2354515176e1, 1.0455993237e-1],
    residualSd: 1.7088072423e1,
  },
  {
    name: 'DanWood',
    model: {
      value: (x, [b1, b2]) => b1 * x ** b2,
      gradient: (x, [b1, b2]) => [x ** b2, b1 * x ** b2 * Math.log(x)],
    },
    x: [1.309, 1.471, 1.49, 1.565, 1.611, 1.68],
    y: [2.138, 3.421, 3.597, 4.34, 4.882, 5.66],
    starts: [
      [1, 5],
      [0.7, 4],
    ],
    parameters: [7.6886226176e-1, 3.8604055871],
    standardDeviations: [1.828197386e-2, 5.1726610913e-2],
    residualSd: 3.2853114039e-2,
  },
  {
    name: 'Rat42',
    model: {
      value: (x, [b1, b2, b3]) => b1 / (1 + Math.exp(b2 - b3 * x)),
      gradient: (x, [b1, b2, b3]) => {
        const e = Math.exp(b2 - b3 * x);
        return [1 / (1 + e), (-b1 * e) / (1 + e) ** 2, (b1 * x * e) / (1 + e) ** 2];
      },
    },
    x: [9, 14, 21, 28, 42, 57, 63, 70, 79],
    y: [8.93, 10.8, 18.59, 22.33, 39.35, 56.11, 61.73, 64.62, 67.08],
    starts: [
      [100, 1, 0.1],
      [75, 2.5, 0.07],
    ],
    parameters: [7.2462237576e1, 2.6180768402, 6.7359200066e-2],
    standardDeviations: [1.7340283401, 8.8295217536e-2, 3.4465663377e-3],
    residualSd: 1.1587725499,
  },
  {
    name: 'Chwirut2',
    model: {
      value: (x, [b1, b2, b3]) => Math.exp(-b1 * x) / (b2 + b3 * x),
      gradient: (x, [b1, b2, b3]) => {
        const e = Math.exp(-b1 * x);
        const below = b2 + b3 * x;
        return [(-x * e) / below, -e / below ** 2, (-x * e) / below ** 2];
      },
    },
    x: [
      0.5, 1, 1.75, 3.75, 5.75, 0.875, 2.25, 3.25, 5.25, 0.75, 1.75, 2.75, 4.75, 0.625, 1.25, 2.25, 4.25, 0.5,
      3, 0.75, 3, 1.5, 6, 3, 6, 1.5, 3, 0.5, 2, 4, 0.75, 2, 5, 0.75, 2.25, 3.75, 5.75, 3, 0.75, 2.5, 4, 0.75,
      2.5, 4, 0.75, 2.5, 4, 0.5, 6, 3, 0.5, 2.75, 0.5, 1.75,
    ],
    y: [
      92.9, 57.1, 31.05, 11.5875, 8.025, 63.6, 21.4, 14.25, 8.475, 63.8, 26.8, 16.4625, 7.125, 67.3, 41,
      21.15, 8.175, 81.5, 13.12, 59.9, 14.62, 32.9, 5.44, 12.56, 5.44, 32, 13.95, 75.8, 20, 10.42, 59.5,
      21.67, 8.55, 62, 20.2, 7.76, 3.75, 11.81, 54.7, 23.7, 11.55, 61.3, 17.7, 8.74, 59.2, 16.3, 8.62, 81,
      4.87, 14.62, 81.7, 17.17, 81.3, 28.9,
    ],
    starts: [
      [0.1, 0.01, 0.02],
      [0.15, 0.008, 0.01],
    ],
    parameters: [1.6657666537e-1, 5.1653291286e-3, 1.2150007096e-2],
    standardDeviations: [3.830328681e-2, 6.6621605126e-4, 1.5304234767e-3],
    residualSd: 3.171713304,
  },
];

const slopes = ['its own gradient', 'central differences'] as const;

describe.each(datasets)('NIST StRD $name', (set) => {
  describe.each(slopes)('with %s', (slope) => {
    test.each([1, 2])('from start %i: at least 9 certified digits', (number) => {
      const model = slope === 'its own gradient' ? set.model : { value: set.model.value };
      const fit = fitLeastSquares({ x: set.x, y: set.y }, model, set.starts[number - 1]);
      if (!fit.converged) throw new Error(fit.reason);
      const agreement = [
        ...fit.parameters.map((value, i) => digits(value, set.parameters[i])),
        ...fit.standardErrors.map((value, i) => digits(value, set.standardDeviations[i])),
        digits(fit.residualSd, set.residualSd),
      ];

      expect(fit.degreesOfFreedom).toBe(set.x.length - set.parameters.length);
      expect(Math.min(...agreement)).toBeGreaterThan(9);
    });
  });
});
