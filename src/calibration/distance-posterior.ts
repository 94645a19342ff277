/** Logarithm of the likelihood of a distance, averaged over what is not known for certain. */
export type LogLikelihood = (distanceM: number) => number;

/** Distances that a posterior is spread over, flat before the dance is read. */
export interface DistancePrior {
  readonly nearestM: number;
  readonly farthestM: number;
}

/** A posterior of distance: its density on a rising grid, straight between grid points. */
export interface DistancePosterior {
  readonly distancesM: Float64Array;
  /** Per metre; its integral over the grid is 1. */
  readonly density: Float64Array;
  /** Probability below each grid point. */
  readonly cumulative: Float64Array;
}

const coarseCount = 120;
const fineCount = 160;
// Densities under e^−25 of the highest hold less than a billionth.
const negligible = 25;
const mostRounds = 8;

/**
 * Posterior of distance under a flat prior, from the likelihood, by the trapezoidal rule on a grid that is laid
 * anew over where the density is not negligible, until it is no longer narrow within the grid.
 *
 * @returns undefined where no distance has any likelihood that a number can hold
 */
export function distancePosterior(
  logLikelihood: LogLikelihood,
  { nearestM, farthestM }: DistancePrior,
): DistancePosterior | undefined {
  let low = nearestM;
  let high = farthestM;
  let grid = evenly(low, high, coarseCount);
  let logs = grid.map(logLikelihood);
  for (let round = 0; round < mostRounds; round++) {
    const most = logs.reduce((best, value) => Math.max(best, value), Number.NEGATIVE_INFINITY);
    if (!Number.isFinite(most)) return undefined;
    const first = logs.findIndex((value) => value > most - negligible);
    const last = logs.findLastIndex((value) => value > most - negligible);
    const narrow = last - first < grid.length / 3;
    if (!narrow && round > 0) break;
    low = grid[Math.max(first - 1, 0)];
    high = grid[Math.min(last + 1, grid.length - 1)];
    grid = evenly(low, high, fineCount);
    logs = grid.map(logLikelihood);
  }
  return normalised(grid, logs);
}

function evenly(low: number, high: number, count: number): Float64Array {
  return Float64Array.from({ length: count + 1 }, (_, k) => low + ((high - low) * k) / count);
}

function normalised(distancesM: Float64Array, logs: Float64Array): DistancePosterior {
  const most = logs.reduce((best, value) => Math.max(best, value), Number.NEGATIVE_INFINITY);
  const density = logs.map((value) => Math.exp(value - most));
  const cumulative = new Float64Array(density.length);
  for (let k = 1; k < density.length; k++) {
    cumulative[k] =
      cumulative[k - 1] + ((density[k] + density[k - 1]) / 2) * (distancesM[k] - distancesM[k - 1]);
  }
  const total = cumulative[cumulative.length - 1];
  return {
    distancesM,
    density: density.map((value) => value / total),
    cumulative: cumulative.map((value) => value / total),
  };
}

/** Distance below which the posterior has a given probability. */
export function posteriorQuantile(
  { distancesM, density, cumulative }: DistancePosterior,
  probability: number,
): number {
  let k = 1;
  while (k < cumulative.length - 1 && cumulative[k] < probability) k++;
  const left = cumulative[k - 1];
  const width = distancesM[k] - distancesM[k - 1];
  const rest = probability - left;
  // Straight density between grid points: a quadratic for how far into the piece.
  const bend = (density[k] - density[k - 1]) / (2 * width);
  const root = Math.sqrt(Math.max(density[k - 1] ** 2 + 4 * bend * rest, 0));
  const into = density[k - 1] + root > 0 ? (2 * rest) / (density[k - 1] + root) : 0;
  return distancesM[k - 1] + Math.min(Math.max(into, 0), width);
}

/** Probability that the distance is below a given one. */
export function posteriorBelow(
  { distancesM, density, cumulative }: DistancePosterior,
  distanceM: number,
): number {
  if (distanceM <= distancesM[0]) return 0;
  const last = distancesM.length - 1;
  if (distanceM >= distancesM[last]) return 1;
  let k = 1;
  while (distancesM[k] < distanceM) k++;
  const into = distanceM - distancesM[k - 1];
  const slope = (density[k] - density[k - 1]) / (distancesM[k] - distancesM[k - 1]);
  return cumulative[k - 1] + density[k - 1] * into + (slope * into * into) / 2;
}
