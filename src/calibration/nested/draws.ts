import type { Random } from '../../random.ts';
import type { Curve, ShapeBounds } from '../curves/curve.ts';
import { designColumns } from './design.ts';
import type { CurveFit } from './fit-curve.ts';
import { raised } from './fit-variances.ts';
import type { NestedModel } from './likelihood.ts';
import { logPrior } from './prior.ts';
import { addProduct, cholesky } from './small-matrix.ts';
import { type Variances, variancesOf } from './variances.ts';

/** One draw of all that a calibration does not know for certain. */
export interface Draw {
  /** The curve's parameters, in metres and seconds. */
  readonly parameters: readonly number[];
  readonly variances: Variances;
}

const warmUps = [300, 500, 700];
const between = 16;
const mostSteps = 120_000;

/** A linear model, or one that is linear for a given shape. */
export interface Design {
  columns(shape: number): readonly Float64Array[];
  readonly bounds: ShapeBounds | null;
  /** Logarithm of the prior density of the shape; flat unless given. */
  logShapePrior?(shape: number): number;
}

/** Where a posterior is: coefficients on the design's columns, shape and variances. */
export interface Sample {
  readonly coefficients: readonly number[];
  readonly shape: number;
  readonly variances: Variances;
}

/**
 * Draws from the posterior of curve and variances (see `drawSamples`). Draws whose curve does not rise are thrown
 * away: the prior is that it does.
 *
 * @param fit where to begin
 */
export function drawCurves(
  model: NestedModel,
  curve: Curve,
  fit: CurveFit,
  count: number,
  random: Random,
): Draw[] {
  const { data } = model;
  const bounds = curve.shapeBounds(data.reaches);
  const fixed = bounds === null ? designColumns(curve, data, 0) : undefined;
  const design: Design = {
    columns: (shape) => fixed ?? designColumns(curve, data, shape),
    bounds,
    logShapePrior: curve.logShapePrior,
  };
  const rises = ({ coefficients }: Sample) => coefficients.slice(1).every((value) => value > 0);
  const samples = drawSamples(model, design, fit.fit.logs, fit.shape, count, random, rises);
  return samples.map(({ coefficients, shape, variances }) => ({
    parameters: curve.toParameters(coefficients, shape, data.farthestM),
    variances,
  }));
}

/**
 * Draws from the posterior of a nested model.
 *
 * Coefficients have a flat prior and are integrated out in closed form: what is left, |XᵀV⁻¹X|^(−1/2)
 * exp(−deviance/2), is that of at most four variances and a shape, walked by Metropolis steps (normal, their
 * covariance learnt while warming up and then held: Haario, Saksman & Tamminen 2001, Bernoulli 7:223; from
 * memory). Each kept place then gives its coefficients from their normal distribution.
 *
 * @param logs where the variances' logarithms begin
 * @param count how many draws; every 16th place is kept
 * @param keep which draws the prior lets stand
 * @returns fewer than asked for where hardly any may stand
 */
export function drawSamples(
  model: NestedModel,
  design: Design,
  logs: Float64Array,
  shape: number,
  count: number,
  random: Random,
  keep: (sample: Sample) => boolean = () => true,
): Sample[] {
  const walk = walker(model, design, random);
  let place = walk.begin(logs, shape);
  let spread = walk.firstSpread();
  for (const steps of warmUps) {
    const visited: Float64Array[] = [];
    let taken = 0;
    for (let step = 0; step < steps; step++) {
      const next = walk.step(place, spread);
      if (next !== place) taken++;
      place = next;
      visited.push(place.at);
    }
    spread = learnt(visited, taken / steps, spread);
  }
  const samples: Sample[] = [];
  for (let step = 0; step < mostSteps && samples.length < count; step++) {
    place = walk.step(place, spread);
    if (step % between > 0) continue;
    const sample = walk.finish(place);
    if (sample !== undefined && keep(sample)) samples.push(sample);
  }
  return samples;
}

interface Place {
  readonly at: Float64Array;
  readonly logDensity: number;
}

function walker(model: NestedModel, { columns, bounds, logShapePrior = () => 0 }: Design, random: Random) {
  const { data, components } = model;
  const columnsAt = (at: Float64Array) => columns(bounds === null ? 0 : at[at.length - 1]);
  const logsAt = (at: Float64Array) => (bounds === null ? at : at.subarray(0, at.length - 1));
  const density = (at: Float64Array): number => {
    const shape = at[at.length - 1];
    if (bounds !== null && (shape < bounds[0] || shape > bounds[1])) return Number.NEGATIVE_INFINITY;
    const found = model.evaluate(columnsAt(at), logsAt(at), 'reml', false);
    if (found === undefined) return Number.NEGATIVE_INFINITY;
    const variances = variancesOf(logsAt(at), components);
    if (Math.min(variances.nearRunSd, variances.farRunSd) < model.leastRunSd) return Number.NEGATIVE_INFINITY;
    return -0.5 * found.deviance + logPrior(variances) + (bounds === null ? 0 : logShapePrior(shape));
  };
  return {
    begin: (start: Float64Array, shape: number): Place => {
      const lowest = Math.log(2 * model.leastRunSd);
      const logs = raised(start, components, 1e-3).map((value) => Math.max(value, lowest));
      const at = Float64Array.from(bounds === null ? logs : [...logs, shape]);
      return { at, logDensity: density(at) };
    },
    firstSpread: (): Float64Array => {
      const sds = [
        ...(components.bee ? [0.6] : []),
        ...(components.dance ? [0.4] : []),
        1 / Math.sqrt(2 * data.runs),
        ...(components.growth ? [1 / Math.sqrt(2 * data.runs)] : []),
        ...(bounds === null ? [] : [0.05 * (bounds[1] - bounds[0])]),
      ];
      const lower = new Float64Array(sds.length ** 2);
      sds.forEach((sd, i) => {
        lower[i * sds.length + i] = sd;
      });
      return lower;
    },
    step: (place: Place, spread: Float64Array): Place => {
      const noise = Float64Array.from(place.at, () => random.normal());
      const at = addProduct(Float64Array.from(place.at), spread, noise, noise.length);
      const logDensity = density(at);
      return Math.log(1 - random.uniform()) < logDensity - place.logDensity ? { at, logDensity } : place;
    },
    finish: ({ at }: Place): Sample | undefined => {
      const found = model.evaluate(columnsAt(at), logsAt(at), 'ml', false);
      if (found === undefined) return undefined;
      const p = found.coefficients.length;
      const lower = cholesky(found.covariance, p);
      if (lower === undefined) return undefined;
      const noise = Float64Array.from({ length: p }, () => random.normal());
      const coefficients = Array.from(addProduct(Float64Array.from(found.coefficients), lower, noise, p));
      const shape = bounds === null ? 0 : at[at.length - 1];
      return { coefficients, shape, variances: variancesOf(logsAt(at), components) };
    },
  };
}

/** Scaled Cholesky factor of the covariance of the places visited. */
function learnt(visited: readonly Float64Array[], accepted: number, before: Float64Array): Float64Array {
  const size = visited[0].length;
  if (accepted < 0.05) return before.map((value) => value / 3);
  const mean = new Float64Array(size);
  for (const at of visited)
    at.forEach((value, i) => {
      mean[i] += value / visited.length;
    });
  const covariance = new Float64Array(size * size);
  for (const at of visited) {
    for (let i = 0; i < size; i++) {
      for (let j = 0; j < size; j++) {
        covariance[i * size + j] += ((at[i] - mean[i]) * (at[j] - mean[j])) / visited.length;
      }
    }
  }
  // Steps of 2.38/√d times the posterior's own covariance (Gelman, Roberts & Gilks 1996; from memory).
  const scale = 2.38 ** 2 / size;
  for (let i = 0; i < size; i++) covariance[i * size + i] *= 1 + 1e-6;
  return (
    cholesky(
      covariance.map((value) => value * scale),
      size,
    ) ?? before
  );
}
