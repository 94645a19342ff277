import { describe, expect, test } from 'vitest';
import { type Components, type NestedDance, nestedData } from '../../src/calibration/nested/data.ts';
import { fitVariances, type LinearFit } from '../../src/calibration/nested/fit-variances.ts';
import { type Method, nestedModel } from '../../src/calibration/nested/likelihood.ts';
import { dyestuff, pastes, sleepstudy } from './mixed-effects-data.ts';

/**
 * Data: see mixed-effects-data.ts. The figures were computed with R 4.2.2 and lme4 1.1-31 (Bates, Mächler,
 * Bolker & Walker 2015, J Stat Softw 67(1)). The likelihood is the one that calibrations go through: a batch or
 * subject stands for a bee, a cask for a dance.
 */
const single = (beeId: string, distanceM: number, meanS: number): NestedDance => ({
  beeId,
  distanceM,
  meanS,
  usedRuns: 1,
  squaredDeviations: 0,
});
const pair = (beeId: string, [first, second]: readonly [number, number]): NestedDance => ({
  beeId,
  distanceM: 1,
  meanS: (first + second) / 2,
  usedRuns: 2,
  squaredDeviations: (first - second) ** 2 / 2,
});

const onlyBees: Components = { bee: true, dance: false, growth: false };
const studies = {
  dyestuff: {
    dances: Object.entries(dyestuff).flatMap(([batch, values]) => values.map((y) => single(batch, 1, y))),
    components: onlyBees,
    slope: false,
  },
  pastes: {
    dances: Object.entries(pastes).flatMap(([batch, casks]) => casks.map((both) => pair(batch, both))),
    components: { ...onlyBees, dance: true },
    slope: false,
  },
  sleepstudy: {
    dances: Object.entries(sleepstudy).flatMap(([subject, values]) =>
      values.map((y, day) => single(subject, day, y)),
    ),
    components: onlyBees,
    slope: true,
  },
};

function fitted(name: keyof typeof studies, method: Method): LinearFit {
  const { dances, components, slope } = studies[name];
  const data = nestedData(dances);
  const ones = new Float64Array(data.dances).fill(1);
  const days = data.reach.map((reach) => reach * data.farthestM);
  const fit = fitVariances(nestedModel(data, components), slope ? [ones, days] : [ones], method);
  if (!fit?.converged) throw new Error('no fit');
  return fit;
}

/** Relative difference, in significant digits. */
function expectDigits(found: number, wanted: number, digits: number): void {
  expect(Math.abs(found / wanted - 1)).toBeLessThan(0.5 * 10 ** -digits);
}

const table: [keyof typeof studies, Method, Record<string, number>][] = [
  ['dyestuff', 'reml', { bee: 1764.05, run: 2451.25, mean: 1527.5, se: 19.383412, logLik: -159.8271384 }],
  ['dyestuff', 'ml', { bee: 1388.3333, run: 2451.25, mean: 1527.5, se: 17.694554, logLik: -163.6635299 }],
  [
    'pastes',
    'reml',
    { dance: 8.433666, bee: 1.657311, run: 0.678, mean: 60.053333, se: 0.67687, logLik: -123.4953729 },
  ],
  [
    'pastes',
    'ml',
    { dance: 8.433617, bee: 1.199179, run: 0.678002, mean: 60.053333, se: 0.642136, logLik: -123.9972329 },
  ],
  [
    'sleepstudy',
    'reml',
    {
      bee: 1378.17851,
      run: 960.45658,
      mean: 251.405105,
      se: 9.746716,
      slope: 10.467286,
      slopeSe: 0.804221,
      logLik: -893.2325427,
    },
  ],
  [
    'sleepstudy',
    'ml',
    {
      bee: 1296.87005,
      run: 954.52783,
      mean: 251.405105,
      se: 9.506185,
      slope: 10.467286,
      slopeSe: 0.801735,
      logLik: -897.0393215,
    },
  ],
];

describe('R lme4', () => {
  test.each(table)('%s by %s: every figure to four digits', (name, method, wanted) => {
    const { variances, coefficients, covariance, deviance } = fitted(name, method);
    const size = coefficients.length;
    const found: Record<string, number> = {
      bee: variances.bee,
      dance: variances.dance,
      run: variances.nearRunSd ** 2,
      mean: coefficients[0],
      se: Math.sqrt(covariance[0]),
      slope: coefficients[1],
      slopeSe: Math.sqrt(covariance[size * size - 1]),
      logLik: -deviance / 2,
    };
    for (const [figure, value] of Object.entries(wanted)) expectDigits(found[figure], value, 4);
    // The likelihood itself is reckoned to more than lme4's own search stops at.
    expectDigits(found.logLik, wanted.logLik, 8);
  });
});
