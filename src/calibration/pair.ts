/** Two figures of one thing: of its run duration and of its circuit time. */
export type Pair = readonly [duration: number, tempo: number];

/** Symmetric 2 × 2 matrix: duration, both, tempo. */
export type PairMatrix = readonly [duration: number, both: number, tempo: number];

/** Nothing known, or no weight. */
export const emptyPair: PairMatrix = [0, 0, 0];

/** Covariance of two SDs and their correlation. */
export function pairCovariance(variances: Pair, correlation: number): PairMatrix {
  return [variances[0], correlation * Math.sqrt(variances[0] * variances[1]), variances[1]];
}

/** Sum of two matrices. */
export function addPairs(left: PairMatrix, right: PairMatrix): PairMatrix {
  return [left[0] + right[0], left[1] + right[1], left[2] + right[2]];
}

/** Determinant, of the product of both units squared. */
export function pairDeterminant([a, b, c]: PairMatrix): number {
  return a * c - b * b;
}

/** matrix·x. */
export function timesPair([a, b, c]: PairMatrix, [x, y]: Pair): Pair {
  return [a * x + b * y, b * x + c * y];
}

/** Inverse on the measures that there are; rows of a measure that is not there are nothing. */
export function invertPair(matrix: PairMatrix, has: readonly [boolean, boolean]): PairMatrix {
  if (has[0] && has[1]) {
    const determinant = pairDeterminant(matrix);
    return [matrix[2] / determinant, -matrix[1] / determinant, matrix[0] / determinant];
  }
  return [has[0] ? 1 / matrix[0] : 0, 0, has[1] ? 1 / matrix[2] : 0];
}

/** xᵀ·matrix·x. */
export function pairForm(matrix: PairMatrix, x: Pair): number {
  const [left, right] = timesPair(matrix, x);
  return left * x[0] + right * x[1];
}

/**
 * What a sum of independent weights W leaves of a prior covariance B: (B⁻¹ + W)⁻¹, in the form (I + BW)⁻¹B that
 * bears a B of nothing. Also |I + BW|.
 */
export function leftOver(prior: PairMatrix, weight: PairMatrix): { covariance: PairMatrix; factor: number } {
  const [a, b, c] = prior;
  const [p, q, r] = weight;
  const m00 = 1 + a * p + b * q;
  const m01 = a * q + b * r;
  const m10 = b * p + c * q;
  const m11 = 1 + b * q + c * r;
  const factor = m00 * m11 - m01 * m10;
  return {
    covariance: [(m11 * a - m01 * b) / factor, (m11 * b - m01 * c) / factor, (m00 * c - m10 * b) / factor],
    factor,
  };
}
