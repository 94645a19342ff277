import { determinant, inverse, Matrix } from 'ml-matrix';
import { describe, expect, test } from 'vitest';
import { curveNamed, curves } from '../../src/calibration/curves/registry.ts';
import { type Components, type NestedDance, nestedData } from '../../src/calibration/nested/data.ts';
import { fitCurveMl, fitCurveReml } from '../../src/calibration/nested/fit-curve.ts';
import { type Method, nestedModel } from '../../src/calibration/nested/likelihood.ts';
import { minimise } from '../../src/calibration/nested/minimise.ts';
import { invertSymmetric } from '../../src/calibration/nested/small-matrix.ts';
import { whiten } from '../../src/calibration/nested/whiten.ts';
import { seededRandom } from '../../src/random.ts';
import { type SimulatedStudy, simulatedDances } from './simulated.ts';

const all: Components = { bee: true, dance: true, growth: true };

/** Simulated runs, three bees, two dances each, told one by one and summed up. */
function fewRuns() {
  const random = seededRandom(3);
  const dances: (NestedDance & { runs: number[] })[] = [];
  for (const bee of ['red', 'blue', 'green']) {
    for (const distanceM of [200, 700]) {
      const runs = Array.from(
        { length: 2 + random.below(3) },
        () => 0.2 + distanceM / 900 + 0.2 * random.normal(),
      );
      const meanS = runs.reduce((sum, run) => sum + run, 0) / runs.length;
      const squaredDeviations = runs.reduce((sum, run) => sum + (run - meanS) ** 2, 0);
      dances.push({ beeId: bee, distanceM, meanS, usedRuns: runs.length, squaredDeviations, runs });
    }
  }
  return dances;
}

/** −2 log likelihood with the whole n × n covariance written out. */
function denseDeviance(dances: ReturnType<typeof fewRuns>, method: Method): number {
  const rows = dances.flatMap((dance, d) => dance.runs.map((y) => ({ ...dance, y, d })));
  const sd = { 200: 0.15, 700: 0.25 } as Record<number, number>;
  const v = new Matrix(
    rows.map((left, i) =>
      rows.map(
        (right, j) =>
          (left.beeId === right.beeId ? 0.02 : 0) +
          (left.d === right.d ? 0.01 : 0) +
          (i === j ? sd[left.distanceM] ** 2 : 0),
      ),
    ),
  );
  const x = new Matrix(rows.map(({ distanceM }) => [1, distanceM / 700]));
  const y = Matrix.columnVector(rows.map((row) => row.y));
  const w = inverse(v);
  const cross = x.transpose().mmul(w).mmul(x);
  const beta = inverse(cross).mmul(x.transpose()).mmul(w).mmul(y);
  const e = Matrix.sub(y, x.mmul(beta));
  const quadratic = e.transpose().mmul(w).mmul(e).get(0, 0);
  const ml = rows.length * Math.log(2 * Math.PI) + Math.log(determinant(v)) + quadratic;
  return method === 'ml' ? ml : ml + Math.log(determinant(cross)) - 2 * Math.log(2 * Math.PI);
}

describe.each(['ml', 'reml'] as const)('nested likelihood, %s', (method) => {
  const dances = fewRuns();
  const data = nestedData(dances);
  const model = nestedModel(data, all);
  const columns = [new Float64Array(data.dances).fill(1), data.reach];
  const logs = [Math.log(0.02), Math.log(0.01), Math.log(0.15), Math.log(0.25)];

  test('is that of the whole covariance matrix', () => {
    expect(model.evaluate(columns, logs, method)!.deviance).toBeCloseTo(denseDeviance(dances, method), 8);
  });

  test('its slopes are those of its values', () => {
    const { gradient } = model.evaluate(columns, logs, method)!;
    logs.forEach((value, i) => {
      const at = (shift: number) =>
        model.evaluate(columns, logs.with(i, value + shift), method, false)!.deviance;
      expect(gradient[i]).toBeCloseTo((at(1e-5) - at(-1e-5)) / 2e-5, 6);
    });
  });
});

const study: SimulatedStudy = {
  distancesM: [150, 400, 800, 1400, 2200],
  bees: 8,
  dancesPerFeeder: 3,
  runsPerDance: 5,
  beeSdS: 0.06,
  danceSdS: 0.05,
  runSdS: 0.2,
  curve: (d) => 0.15 + 0.0016 * Math.min(d, 1000) + 0.0009 * Math.max(d - 1000, 0),
};

test.each(curves.map(({ name }) => name))('%s: the maximum is one, in every direction', (name) => {
  const curve = curveNamed(name)!;
  const data = nestedData(simulatedDances(study, 21));
  const model = nestedModel(data, all);
  const ml = fitCurveMl(model, curve)!;
  expect(ml.fit.converged).toBe(true);
  const natural = curve.toParameters(Array.from(ml.fit.coefficients), ml.shape, data.farthestM);
  // Of least squares whitened by the fitted variances the same parameters are the minimum.
  const white = whiten(data, ml.fit.variances, curve);
  const sum = (parameters: readonly number[]) =>
    white.points.x.reduce(
      (total, x, i) => total + (white.points.y[i] - white.model.value(x, parameters)) ** 2,
      0,
    );
  natural.forEach((value, i) => {
    for (const factor of [0.999, 1.001]) {
      expect(sum(natural.with(i, value * factor))).toBeGreaterThan(sum(natural) - 1e-7);
    }
  });
});

test.each(['line', 'saturating', 'power'])('%s: REML has larger variances than ML, and settles', (name) => {
  const curve = curveNamed(name)!;
  const model = nestedModel(nestedData(simulatedDances(study, 22)), all);
  const ml = fitCurveMl(model, curve)!;
  const reml = fitCurveReml(model, curve, ml)!;
  expect(reml.fit.variances.bee).toBeGreaterThan(ml.fit.variances.bee);
  expect(Math.abs(reml.shape - ml.shape)).toBeLessThan(0.2 * ml.shape + 1e-9);
});

test('quasi-Newton finds the bottom of a bent valley', () => {
  // Rosenbrock 1960; the minimum is at (1, 1).
  const found = minimise(
    ([x, y]) => ({
      value: (1 - x) ** 2 + 100 * (y - x * x) ** 2,
      gradient: Float64Array.of(-2 * (1 - x) - 400 * x * (y - x * x), 200 * (y - x * x)),
    }),
    [-1.2, 1],
  )!;
  expect(found.converged).toBe(true);
  expect(found.at[0]).toBeCloseTo(1, 6);
  expect(found.at[1]).toBeCloseTo(1, 6);
});

test('a small inverse and its determinant; none for dependent columns', () => {
  const found = invertSymmetric([4, 2, 2, 3], 2)!;
  expect(Array.from(found.inverse, (value) => Number((8 * value).toFixed(12)))).toEqual([3, -2, -2, 4]);
  expect(found.logDeterminant).toBeCloseTo(Math.log(8), 12);
  expect(invertSymmetric([1, 1, 1, 1], 2)).toBeUndefined();
});
