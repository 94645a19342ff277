import normal from '@stdlib/stats-base-dists-normal';
import { bisectRight } from 'd3-array';

/** A posterior of distance: its density on a rising grid, straight between grid points. */
export interface DistanceDensity {
  readonly distanceM: ArrayLike<number>;
  /** Per metre; need not be normalised. */
  readonly density: ArrayLike<number>;
}

/** A median with the bounds of a central interval. */
export interface DistanceInterval {
  readonly medianM: number;
  readonly lowM: number;
  readonly highM: number;
  /** Probability of the interval. */
  readonly level: number;
}

const gridCount = 400;
const tail = 1e-4;
// Bounds whose distances from the median differ by less than this share are taken as even.
const nearlyEven = 1e-4;

/**
 * A density with a given median and interval: the lognormal, shifted and if need be mirrored, that has these
 * three quantiles (the normal where the bounds lie evenly), cut off at distance 0.
 */
export function densityOfInterval({ medianM, lowM, highM, level }: DistanceInterval): DistanceDensity {
  const z = normal.quantile((1 + level) / 2, 0, 1);
  const up = highM - medianM;
  const down = medianM - lowM;
  const sigma = Math.log(up / down) / z;
  const even = Math.abs(sigma) < nearlyEven;
  const scale = even ? (up + down) / (2 * z) : up / Math.expm1(sigma * z);
  const distanceAt = (u: number) => medianM + scale * (even ? u : Math.expm1(sigma * u));
  const scoreAt = (x: number) => {
    const away = (x - medianM) / scale;
    return even ? away : Math.log1p(away) / sigma;
  };
  const slopeAt = (x: number) => (even ? 1 : 1 + (x - medianM) / scale);
  const edge = normal.quantile(1 - tail, 0, 1);
  const nearest = Math.max(distanceAt(-edge), 0);
  const farthest = distanceAt(edge);
  const distanceM = Float64Array.from(
    { length: gridCount + 1 },
    (_, k) => nearest + ((farthest - nearest) * k) / gridCount,
  );
  const density = distanceM.map((x) => {
    const slope = slopeAt(x);
    return slope > 0 ? Math.exp(-(scoreAt(x) ** 2) / 2) / slope : 0;
  });
  return { distanceM, density };
}

/** A density with its integral set to 1, to be asked at any distance, and its quantiles. */
export interface DistanceLookup {
  densityAt(distanceM: number): number;
  quantile(probability: number): number;
}

/**
 * Reads a density by straight lines between its grid points.
 *
 * @throws RangeError when the grid does not rise, a density is negative, or nothing is above 0
 */
export function distanceLookup({ distanceM, density }: DistanceDensity): DistanceLookup {
  const last = distanceM.length - 1;
  const cumulative = new Float64Array(last + 1);
  for (let k = 0; k <= last; k++) {
    if (!(density[k] >= 0) || !(distanceM[k] >= 0)) throw new RangeError('a negative density or distance');
    if (k === 0) continue;
    const width = distanceM[k] - distanceM[k - 1];
    if (!(width > 0)) throw new RangeError('distances that do not rise');
    cumulative[k] = cumulative[k - 1] + (width * (density[k] + density[k - 1])) / 2;
  }
  const total = cumulative[last];
  if (!(total > 0)) throw new RangeError('a density that is nowhere above 0');
  return {
    densityAt: (x) => {
      if (x < distanceM[0] || x > distanceM[last]) return 0;
      const k = pieceOf(distanceM, x);
      const into = (x - distanceM[k]) / (distanceM[k + 1] - distanceM[k]);
      return (density[k] + (density[k + 1] - density[k]) * into) / total;
    },
    quantile: (probability) => {
      const wanted = Math.min(Math.max(probability, 0), 1) * total;
      const k = pieceOf(cumulative, wanted);
      const width = distanceM[k + 1] - distanceM[k];
      const rest = wanted - cumulative[k];
      // Straight density within the piece: the root of a quadratic.
      const bend = (density[k + 1] - density[k]) / (2 * width);
      const root = Math.sqrt(Math.max(density[k] ** 2 + 4 * bend * rest, 0));
      const into = density[k] + root > 0 ? (2 * rest) / (density[k] + root) : 0;
      return distanceM[k] + Math.min(Math.max(into, 0), width);
    },
  };
}

/** The piece k of a rising grid with grid[k] ≤ x ≤ grid[k + 1]. */
const pieceOf = (grid: ArrayLike<number>, x: number): number => bisectRight(grid, x, 1, grid.length - 1) - 1;
