import type { Components, NestedData } from './data.ts';
import { addProduct, invertSymmetric } from './small-matrix.ts';
import { farShares, variancesOf } from './variances.ts';

/** A linear mixed model at certain variances, its coefficients by generalised least squares. */
export interface Evaluation {
  /** −2 log likelihood, or −2 log restricted likelihood. */
  readonly deviance: number;
  readonly coefficients: Float64Array;
  /** (XᵀV⁻¹X)⁻¹, row by row. */
  readonly covariance: Float64Array;
  /** Derivatives of the deviance by each searched logarithm (see `logNames`). */
  readonly gradient: Float64Array;
  /** Best guess of each bee's deviation, given these variances. */
  readonly beeEffects: Float64Array;
}

/** Maximum likelihood, or restricted maximum likelihood. */
export type Method = 'ml' | 'reml';

/** Reckons likelihoods of one set of dances; the work space is kept between calls. */
export interface NestedModel {
  readonly data: NestedData;
  readonly components: Components;
  /** Run SDs below this are rounding: a millionth of the largest mean. */
  readonly leastRunSd: number;
  /**
   * @param columns design matrix, one array per coefficient, one entry per dance (in the data's order)
   * @param logs logarithms of bee variance, dance variance, near and far run SD, those the components have
   * @param withGradient false leaves the gradient at nothing and saves a third of the time
   * @returns undefined where the columns are dependent or a number is not finite
   */
  evaluate(
    columns: readonly Float64Array[],
    logs: ArrayLike<number>,
    method: Method,
    withGradient?: boolean,
  ): Evaluation | undefined;
}

/**
 * Likelihood of mean(x) + bee + dance within bee + run, in closed form.
 *
 * A dance of n runs with run variance r (all at one distance) says no more than its mean, with variance
 * v = dance variance + r/n given the bee, and its runs' squared deviations. Bees are then blocks
 * diag(v) + bee variance·11ᵀ whose inverse and determinant Woodbury's identity and the matrix determinant
 * lemma give in time proportional to the dances; no n × n matrix is made. With w = 1/v, S = Σw of a bee and
 * h = bee variance/(1 + bee variance·S):
 *   −2 log L = N log 2π + Σ_dances [(n − 1) log r + squares/r + log n + log v]
 *              + Σ_bees log(1 + bee variance·S) + Σ_bees [Σ w e² − h (Σ w e)²]
 * Restricted likelihood: + log |XᵀV⁻¹X| − p log 2π (Patterson & Thompson 1971, Biometrika 58:545; Harville
 * 1977, JASA 72:320; both from memory). Derivatives: ∂/∂v = V⁻¹_jj − (V⁻¹e)_j² [− (V⁻¹X)_j (XᵀV⁻¹X)⁻¹ (V⁻¹X)_jᵀ].
 */
export function nestedModel(data: NestedData, components: Components): NestedModel {
  const space = {
    weight: new Float64Array(data.dances),
    runVariance: new Float64Array(data.reaches.length),
    share: farShares(data.reaches),
    spareRuns: byFeeder(data, (j) => data.count[j] - 1),
    squares: byFeeder(data, (j) => data.squares[j]),
    logCounts: data.count.reduce((sum, count) => sum + Math.log(count), 0),
    residual: new Float64Array(data.dances),
    // Times that lie on a curve exactly would have no likelihood to find; this much is rounding.
    floor: (1e-6 * data.mean.reduce((most, value) => Math.max(most, Math.abs(value)), 0)) ** 2,
  };
  return {
    data,
    components,
    leastRunSd: Math.sqrt(space.floor),
    evaluate: (columns, logs, method, withGradient = true) =>
      evaluate(data, components, space, columns, logs, method, withGradient),
  };
}

/** Sum of a figure over the dances of each feeder. */
function byFeeder({ reaches, feeder }: NestedData, of: (dance: number) => number): Float64Array {
  const sums = new Float64Array(reaches.length);
  feeder.forEach((place, j) => {
    sums[place] += of(j);
  });
  return sums;
}

interface Space {
  /** 1/v of each dance. */
  readonly weight: Float64Array;
  /** The following have one entry per feeder. */
  readonly runVariance: Float64Array;
  readonly share: Float64Array;
  readonly spareRuns: Float64Array;
  readonly squares: Float64Array;
  readonly logCounts: number;
  readonly residual: Float64Array;
  readonly floor: number;
}

function evaluate(
  data: NestedData,
  components: Components,
  space: Space,
  columns: readonly Float64Array[],
  logs: ArrayLike<number>,
  method: Method,
  withGradient: boolean,
): Evaluation | undefined {
  const size = columns.length;
  const variances = variancesOf(logs, components);
  const constant = weigh(data, space, variances);
  const normal = normalEquations(data, space.weight, variances.bee, columns);
  const inverse = invertSymmetric(normal.cross, size);
  if (inverse === undefined || !Number.isFinite(constant)) return undefined;
  const coefficients = addProduct(new Float64Array(size), inverse.inverse, normal.withMean, size);
  const { quadratic, beeEffects } = residuals(data, space, variances.bee, columns, coefficients);
  let deviance = data.runs * Math.log(2 * Math.PI) + constant + normal.logBees + quadratic;
  if (method === 'reml') deviance += inverse.logDeterminant - size * Math.log(2 * Math.PI);
  const gradient = withGradient
    ? gradientOf(data, components, space, columns, variances, beeEffects, method, inverse.inverse)
    : new Float64Array(logs.length);
  return { deviance, coefficients, covariance: inverse.inverse, gradient, beeEffects };
}

/** Fills run variances and weights 1/v; gives the part of the deviance that is of dances alone. */
function weigh(
  { dances, count, feeder }: NestedData,
  { weight, runVariance, share, spareRuns, squares, logCounts, floor }: Space,
  { dance, nearRunSd, farRunSd }: { dance: number; nearRunSd: number; farRunSd: number },
): number {
  let sum = logCounts;
  for (let f = 0; f < share.length; f++) {
    const r = (nearRunSd + (farRunSd - nearRunSd) * share[f]) ** 2 + floor;
    runVariance[f] = r;
    sum += spareRuns[f] * Math.log(r) + squares[f] / r;
  }
  // One logarithm for many dances: the product is taken as far as a number can hold it.
  let product = 1;
  for (let j = 0; j < dances; j++) {
    const v = dance + runVariance[feeder[j]] / count[j];
    weight[j] = 1 / v;
    product *= v;
    if (product < 1e-200 || product > 1e200) {
      sum += Math.log(product);
      product = 1;
    }
  }
  return sum + Math.log(product);
}

/** XᵀV⁻¹X, XᵀV⁻¹y and the bees' part of the log determinant. */
function normalEquations(
  { beeStart, mean }: NestedData,
  weight: Float64Array,
  beeVariance: number,
  columns: readonly Float64Array[],
): { cross: Float64Array; withMean: Float64Array; logBees: number } {
  const size = columns.length;
  const cross = new Float64Array(size * size);
  const withMean = new Float64Array(size);
  const sums = new Float64Array(size);
  let logBees = 0;
  for (let bee = 0; bee + 1 < beeStart.length; bee++) {
    let total = 0;
    let ofMean = 0;
    sums.fill(0);
    for (let j = beeStart[bee]; j < beeStart[bee + 1]; j++) {
      const w = weight[j];
      total += w;
      ofMean += w * mean[j];
      for (let k = 0; k < size; k++) {
        const scaled = w * columns[k][j];
        sums[k] += scaled;
        withMean[k] += scaled * mean[j];
        for (let l = 0; l <= k; l++) cross[k * size + l] += scaled * columns[l][j];
      }
    }
    const h = beeVariance / (1 + beeVariance * total);
    logBees += Math.log1p(beeVariance * total);
    for (let k = 0; k < size; k++) {
      withMean[k] -= h * sums[k] * ofMean;
      for (let l = 0; l <= k; l++) cross[k * size + l] -= h * sums[k] * sums[l];
    }
  }
  for (let k = 0; k < size; k++) for (let l = k + 1; l < size; l++) cross[k * size + l] = cross[l * size + k];
  return { cross, withMean, logBees };
}

function residuals(
  { beeStart, mean, dances }: NestedData,
  { weight, residual }: Space,
  beeVariance: number,
  columns: readonly Float64Array[],
  coefficients: Float64Array,
): { quadratic: number; beeEffects: Float64Array } {
  residual.set(mean);
  for (let k = 0; k < columns.length; k++) {
    for (let j = 0; j < dances; j++) residual[j] -= coefficients[k] * columns[k][j];
  }
  const beeEffects = new Float64Array(beeStart.length - 1);
  let quadratic = 0;
  for (let bee = 0; bee < beeEffects.length; bee++) {
    let total = 0;
    let sum = 0;
    for (let j = beeStart[bee]; j < beeStart[bee + 1]; j++) {
      total += weight[j];
      sum += weight[j] * residual[j];
      quadratic += weight[j] * residual[j] ** 2;
    }
    beeEffects[bee] = (beeVariance / (1 + beeVariance * total)) * sum;
    quadratic -= beeEffects[bee] * sum;
  }
  return { quadratic, beeEffects };
}

function gradientOf(
  { beeStart, count, feeder, reaches }: NestedData,
  components: Components,
  { weight, runVariance, share, spareRuns, squares, residual }: Space,
  columns: readonly Float64Array[],
  {
    bee: beeVariance,
    dance,
    nearRunSd,
    farRunSd,
  }: { bee: number; dance: number; nearRunSd: number; farRunSd: number },
  beeEffects: Float64Array,
  method: Method,
  inverse: Float64Array,
): Float64Array {
  const size = columns.length;
  const row = new Float64Array(size);
  const sums = new Float64Array(size);
  const byR = new Float64Array(reaches.length);
  let byBee = 0;
  let byDance = 0;
  for (let bee = 0; bee < beeEffects.length; bee++) {
    let total = 0;
    let ofResidual = 0;
    sums.fill(0);
    for (let j = beeStart[bee]; j < beeStart[bee + 1]; j++) {
      total += weight[j];
      ofResidual += weight[j] * residual[j];
      for (let k = 0; k < size; k++) sums[k] += weight[j] * columns[k][j];
    }
    const h = beeVariance / (1 + beeVariance * total);
    const shrink = 1 / (1 + beeVariance * total);
    byBee += total * shrink - (ofResidual * shrink) ** 2;
    if (method === 'reml') byBee -= shrink * shrink * quadraticForm(inverse, sums, size);
    for (let j = beeStart[bee]; j < beeStart[bee + 1]; j++) {
      const w = weight[j];
      let byV = w - h * w * w - (w * (residual[j] - beeEffects[bee])) ** 2;
      if (method === 'reml') {
        for (let k = 0; k < size; k++) row[k] = w * (columns[k][j] - h * sums[k]);
        byV -= quadraticForm(inverse, row, size);
      }
      byDance += byV;
      byR[feeder[j]] += byV / count[j];
    }
  }
  for (let f = 0; f < byR.length; f++) {
    const r = runVariance[f];
    byR[f] += spareRuns[f] / r - squares[f] / (r * r);
  }
  const [byNear, byFar] = byRunSds(byR, share, nearRunSd, farRunSd);
  // By the logarithms: chain rule, variance·∂ or SD·∂.
  return Float64Array.from([
    ...(components.bee ? [beeVariance * byBee] : []),
    ...(components.dance ? [dance * byDance] : []),
    components.growth ? nearRunSd * byNear : nearRunSd * (byNear + byFar),
    ...(components.growth ? [farRunSd * byFar] : []),
  ]);
}

/** Derivatives by the SD of runs at the nearest and at the farthest feeder, from those by each feeder's variance. */
function byRunSds(
  byVariance: Float64Array,
  share: ArrayLike<number>,
  nearRunSd: number,
  farRunSd: number,
): [byNear: number, byFar: number] {
  let byNear = 0;
  let byFar = 0;
  for (let f = 0; f < byVariance.length; f++) {
    const bySd = 2 * (nearRunSd + (farRunSd - nearRunSd) * share[f]) * byVariance[f];
    byNear += bySd * (1 - share[f]);
    byFar += bySd * share[f];
  }
  return [byNear, byFar];
}

function quadraticForm(matrix: Float64Array, vector: Float64Array, size: number): number {
  let sum = 0;
  for (let k = 0; k < size; k++) {
    for (let l = 0; l < size; l++) sum += matrix[k * size + l] * vector[k] * vector[l];
  }
  return sum;
}
