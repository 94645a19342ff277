import type { Curve } from '../curves/curve.ts';
import { designColumns, shapeGrid, shapeSlope } from './design.ts';
import { fitVariances, type LinearFit } from './fit-variances.ts';
import type { NestedModel } from './likelihood.ts';
import { variancesOf } from './variances.ts';

/** A curve fitted with its variance components. */
export interface CurveFit {
  /** Shape of the curve; 0 where it has none. */
  readonly shape: number;
  /** Whether the likelihood still rises where the shape must end. */
  readonly atBound: 'lowest' | 'highest' | null;
  readonly fit: LinearFit;
}

const gridCount = 12;
const golden = (Math.sqrt(5) - 1) / 2;
const goldenSteps = 34;
const mostRounds = 30;

/**
 * Maximum likelihood of coefficients, shape and variances together. For a given shape the coefficients are
 * those of generalised least squares and the variances those of a quasi-Newton search, so that only the shape
 * is left: it is sought on a grid over its bounds, which is start enough for curves with several hollows (the
 * broken line has one between every two feeders), then by golden section about the best.
 *
 * @param near logarithms of variances from a like fit
 */
export function fitCurveMl(model: NestedModel, curve: Curve, near?: ArrayLike<number>): CurveFit | undefined {
  const grid = shapeGrid(curve, model.data.reaches, gridCount);
  let warm = near;
  const at = (shape: number) => {
    const found = fitVariances(model, designColumns(curve, model.data, shape), 'ml', warm);
    if (found?.converged) warm = found.logs;
    return found;
  };
  const fits = grid.map(at);
  const best = leastOf(fits);
  if (best < 0) return undefined;
  if (grid.length === 1) return { shape: 0, atBound: null, fit: fits[best]! };
  const refined = narrow(at, grid[Math.max(best - 1, 0)], grid[Math.min(best + 1, grid.length - 1)]);
  const better = refined !== undefined && refined.fit.deviance < fits[best]!.deviance;
  const end = better ? refined : { shape: grid[best], fit: fits[best]! };
  return { ...end, atBound: boundOf(curve, model, end.shape) };
}

function boundOf(curve: Curve, model: NestedModel, shape: number): CurveFit['atBound'] {
  const [lowest, highest] = curve.shapeBounds(model.data.reaches)!;
  const close = 1e-4 * (highest - lowest);
  if (shape - lowest < Math.min(close, lowest)) return 'lowest';
  return highest - shape < close ? 'highest' : null;
}

function leastOf(fits: readonly (LinearFit | undefined)[]): number {
  let best = -1;
  fits.forEach((fit, index) => {
    if (fit === undefined) return;
    if (best < 0 || fit.deviance < fits[best]!.deviance) best = index;
  });
  return best;
}

/** Golden section for the least deviance between two shapes. */
function narrow(at: (shape: number) => LinearFit | undefined, from: number, to: number) {
  let low = from;
  let high = to;
  let left = high - golden * (high - low);
  let right = low + golden * (high - low);
  let atLeft = at(left);
  let atRight = at(right);
  for (let step = 0; step < goldenSteps && high - low > 1e-7 * high; step++) {
    if ((atLeft?.deviance ?? Infinity) <= (atRight?.deviance ?? Infinity)) {
      high = right;
      [right, atRight] = [left, atLeft];
      left = high - golden * (high - low);
      atLeft = at(left);
    } else {
      low = left;
      [left, atLeft] = [right, atRight];
      right = low + golden * (high - low);
      atRight = at(right);
    }
  }
  const best = (atLeft?.deviance ?? Infinity) <= (atRight?.deviance ?? Infinity) ? 'left' : 'right';
  const fit = best === 'left' ? atLeft : atRight;
  return fit && { shape: best === 'left' ? left : right, fit };
}

/**
 * Restricted maximum likelihood for a curve: variances are those of the model made linear about the fitted
 * curve, the curve that of generalised least squares at those variances, turn and turn about until neither
 * moves (Lindstrom & Bates 1990, Biometrics 46:673; from memory). For a curve without shape that is REML.
 *
 * @param start the curve's maximum likelihood fit
 */
export function fitCurveReml(model: NestedModel, curve: Curve, start: CurveFit): CurveFit | undefined {
  const { data } = model;
  if (curve.shapeBounds(data.reaches) === null) {
    const fit = fitVariances(model, designColumns(curve, data, 0), 'reml', start.fit.logs);
    return fit && { shape: 0, atBound: null, fit };
  }
  let { shape } = start;
  let { logs, coefficients } = start.fit;
  for (let round = 0; round < mostRounds; round++) {
    const columns = designColumns(curve, data, shape);
    // The slope's coefficient comes out near nothing, as the curve is at its best: no need to shift the response.
    const tangent = [...columns, shapeSlope(curve, data, coefficients, shape)];
    const fit = fitVariances(model, tangent, 'reml', logs) ?? fitVariances(model, columns, 'reml', logs);
    if (fit === undefined) return undefined;
    const moved = largestMove(logs, fit.logs, model);
    logs = fit.logs;
    const next = bestShape(model, curve, logs, shape);
    const there = model.evaluate(designColumns(curve, data, next), logs, 'ml', false);
    if (there === undefined) return undefined;
    ({ coefficients } = there);
    const bent = Math.abs(next - shape) / Math.max(shape, 1e-3);
    shape = next;
    if (moved < 1e-5 && bent < 1e-4) {
      return {
        shape,
        atBound: boundOf(curve, model, shape),
        fit: { ...fit, coefficients: there.coefficients, beeEffects: there.beeEffects },
      };
    }
  }
  return undefined;
}

function largestMove(from: Float64Array, to: Float64Array, model: NestedModel): number {
  // In shares of the runs' SD, so that a component on its way to nothing does not hold up the others.
  const scale = Math.exp(to[to.length - 1]);
  const sds = (logs: Float64Array) => {
    const { bee, dance, nearRunSd, farRunSd } = variancesOf(logs, model.components);
    return [Math.sqrt(bee), Math.sqrt(dance), nearRunSd, farRunSd];
  };
  const before = sds(from);
  const largest = Math.max(...sds(to).map((sd, i) => Math.abs(sd - before[i])));
  return largest / scale;
}

/** The shape of the least weighted squares near another, at given variances. */
function bestShape(model: NestedModel, curve: Curve, logs: Float64Array, near: number): number {
  const [lowest, highest] = curve.shapeBounds(model.data.reaches)!;
  const at = (shape: number) =>
    model.evaluate(designColumns(curve, model.data, shape), logs, 'ml', false)?.deviance ?? Infinity;
  const wide = Math.max(0.2 * near, 0.02 * (highest - lowest) * (highest / lowest > 100 ? 0 : 1));
  let low = Math.max(lowest, near - wide);
  let high = Math.min(highest, near + wide);
  for (let step = 0; step < goldenSteps && high - low > 1e-8 * high; step++) {
    const left = high - golden * (high - low);
    const right = low + golden * (high - low);
    if (at(left) <= at(right)) high = right;
    else low = left;
  }
  return (low + high) / 2;
}
