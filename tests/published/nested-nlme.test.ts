import { expect, test } from 'vitest';
import { curveNamed } from '../../src/calibration/curves/registry.ts';
import { nestedData } from '../../src/calibration/nested/data.ts';
import { fitCurveMl, fitCurveReml } from '../../src/calibration/nested/fit-curve.ts';
import { nestedModel } from '../../src/calibration/nested/likelihood.ts';
import { summariseRuns } from '../../src/calibration/runs.ts';
import { simulatedRuns } from './nested-simulated-data.ts';

/**
 * What lme4's classical data do not have: a curve that is no line, and a spread of runs that grows with distance.
 * The figures were computed with R 4.2.2 and nlme 3.1 (Pinheiro & Bates 2000, Mixed-Effects Models in S and
 * S-PLUS) on simulated runs: nlme(y ~ a + c*(1 - exp(-x/L)), random = a ~ 1 | bee/dance), and
 * lme(y ~ x, random = ~ 1 | bee/dance, weights = varConstPower(power = 1)), whose SD is a straight line in x.
 */
const data = nestedData(
  simulatedRuns.map(([beeId, distanceM, runsS]) => ({ beeId, distanceM, ...summariseRuns(runsS, 'all')! })),
);

function expectNear(found: number, wanted: number, share: number): void {
  expect(Math.abs(found / wanted - 1)).toBeLessThan(share);
}

test('nlme, saturating curve, even spread, maximum likelihood', () => {
  const curve = curveNamed('saturating')!;
  const { fit, shape } = fitCurveMl(nestedModel(data, { bee: true, dance: true, growth: false }), curve)!;
  const parameters = curve.toParameters(Array.from(fit.coefficients), shape, data.farthestM);
  [0.1753861486, 3.8504202666, 2450.198355].forEach((wanted, i) => {
    expectNear(parameters[i], wanted, 1e-5);
  });
  expectNear(fit.variances.bee, 5.905383e-3, 1e-5);
  // nlme leaves 2.0e-9 of a variance that is nothing.
  expect(fit.variances.dance).toBeLessThan(1e-6);
  expectNear(fit.variances.nearRunSd, 0.4253707842, 1e-6);
  expectNear(-fit.deviance / 2, -229.834253337, 1e-8);
});

const growing = [
  {
    method: 'ml',
    mean: 0.2848650477,
    meanSe: undefined,
    slope: 1.0864350552e-3,
    bee: 0.004266267,
    dance: 0.007272899,
    near: 0.1539036265,
    far: 0.7087833638,
    logLik: -145.684734696,
  },
  {
    method: 'reml',
    mean: 0.2852677477,
    meanSe: 0.03287679796,
    slope: 1.0859418101e-3,
    bee: 0.005024324,
    dance: 0.007478171,
    near: 0.1537998227,
    far: 0.7096887643,
    // A restricted likelihood depends on the unit of x: nlme's was in km, here it is in 2200 m.
    logLik: -150.858913925 + Math.log(2.2),
  },
] as const;

test.each(growing)('lme, straight line, growing spread, $method', (wanted) => {
  const curve = curveNamed('line')!;
  const model = nestedModel(data, { bee: true, dance: true, growth: true });
  const ml = fitCurveMl(model, curve)!;
  const { fit } = wanted.method === 'ml' ? ml : fitCurveReml(model, curve, ml)!;
  const [mean, slope] = curve.toParameters(Array.from(fit.coefficients), 0, data.farthestM);
  expectNear(mean, wanted.mean, 1e-5);
  expectNear(slope, wanted.slope, 1e-5);
  if (wanted.meanSe !== undefined) expectNear(Math.sqrt(fit.covariance[0]), wanted.meanSe, 1e-4);
  expectNear(fit.variances.bee, wanted.bee, 1e-4);
  expectNear(fit.variances.dance, wanted.dance, 1e-4);
  expectNear(fit.variances.nearRunSd, wanted.near, 1e-4);
  expectNear(fit.variances.farRunSd, wanted.far, 1e-4);
  expectNear(-fit.deviance / 2, wanted.logLik, 1e-8);
});
