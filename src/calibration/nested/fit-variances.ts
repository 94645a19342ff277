import type { Components, NestedData } from './data.ts';
import type { Evaluation, Method, NestedModel } from './likelihood.ts';
import { minimise } from './minimise.ts';
import { logNames, type Variances, variancesOf } from './variances.ts';

/** A linear mixed model fitted: variances at the best likelihood, coefficients at those variances. */
export interface LinearFit extends Evaluation {
  readonly logs: Float64Array;
  readonly variances: Variances;
  readonly converged: boolean;
}

// Shares of the scatter of dance means given to bees and to dances; the rest is left to runs.
const starts = [
  [0.3, 0.3],
  [0.8, 0.05],
  [0.05, 0.8],
] as const;
// Below this share of the runs' variance a component is nothing.
const smallestRatio = 1e-8;
const nearRatio = 0.01;

/**
 * Maximum likelihood or restricted maximum likelihood of the variances, the coefficients by generalised least
 * squares, from several starts, or from one that is known to be near.
 *
 * @param columns design matrix, one array per coefficient, one entry per dance
 * @param near logarithms of variances from a like fit
 * @returns undefined where no start led anywhere
 */
export function fitVariances(
  model: NestedModel,
  columns: readonly Float64Array[],
  method: Method,
  near?: ArrayLike<number>,
): LinearFit | undefined {
  const slopes = (logs: Float64Array) => {
    const found = model.evaluate(columns, logs, method);
    return found && { value: found.deviance, gradient: found.gradient };
  };
  const begins = near === undefined ? firstLogs(model) : [raised(near, model.components, nearRatio)];
  const ends = begins.flatMap((begin) => minimise(slopes, begin) ?? []);
  const settled = ends.filter((end) => end.converged);
  const candidates = settled.length > 0 ? settled : ends;
  if (candidates.length === 0) return undefined;
  const best = candidates.reduce((least, end) => (end.value < least.value ? end : least));
  return describe(model, columns, method, best.at, best.converged);
}

/**
 * Logarithms with components near nothing raised to a share of the runs' variance: at nothing the likelihood is
 * flat in their logarithms, and no search could leave it.
 */
export function raised(logs: ArrayLike<number>, components: Components, share: number): Float64Array {
  const least = Math.log(share) + 2 * Math.log(variancesOf(logs, components).nearRunSd);
  const names = logNames(components);
  return Float64Array.from(logs, (value, i) =>
    names[i] === 'bee' || names[i] === 'dance' ? Math.max(value, least) : value,
  );
}

function describe(
  model: NestedModel,
  columns: readonly Float64Array[],
  method: Method,
  logs: Float64Array,
  converged: boolean,
): LinearFit | undefined {
  const evaluation = model.evaluate(columns, logs, method);
  if (evaluation === undefined) return undefined;
  const found = variancesOf(logs, model.components);
  const least = smallestRatio * found.nearRunSd ** 2;
  const variances = {
    ...found,
    bee: found.bee < least ? 0 : found.bee,
    dance: found.dance < least ? 0 : found.dance,
  };
  return { ...evaluation, logs, variances, converged };
}

function firstLogs({ data, components }: NestedModel): Float64Array[] {
  const between = scatterOfMeans(data);
  const freedom = data.runs - data.dances;
  const within = freedom > 0 ? data.squares.reduce((sum, value) => sum + value, 0) / freedom : 0.4 * between;
  // Data without any scatter still need a finite place to begin.
  const size = data.mean.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
  const least = Math.max(size * 1e-7, Number.MIN_VALUE ** 0.25) ** 2;
  const runSd = Math.sqrt(Math.max(within, least));
  return starts.map(([bee, dance]) => {
    const value = {
      bee: Math.log(Math.max(bee * between, least)),
      dance: Math.log(Math.max(dance * between, least)),
      near: Math.log(runSd),
      far: Math.log(runSd),
    };
    return Float64Array.from(logNames(components), (name) => value[name]);
  });
}

/** Variance of dance means within feeders; over all where each dance has a distance of its own. */
function scatterOfMeans(data: NestedData): number {
  const byReach = new Map<number, number[]>();
  data.reach.forEach((reach, j) => {
    byReach.set(reach, [...(byReach.get(reach) ?? []), data.mean[j]]);
  });
  const groups = [...byReach.values()];
  const freedom = data.dances - groups.length;
  const pooled = freedom > 0 ? groups : [Array.from(data.mean)];
  const squares = pooled.reduce((sum, values) => {
    const mean = values.reduce((total, value) => total + value, 0) / values.length;
    return sum + values.reduce((total, value) => total + (value - mean) ** 2, 0);
  }, 0);
  return squares / Math.max(freedom > 0 ? freedom : data.dances - 1, 1);
}
