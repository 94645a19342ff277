import { determinant, Matrix, pseudoInverse } from 'ml-matrix';
import { radians, within360 } from './angles.ts';

/** Row of a design with a constant and sines and cosines of 1 … `order` times an angle. */
export function harmonicRow(angleDeg: number, order: number): number[] {
  const row = [1];
  for (let k = 1; k <= order; k++) {
    row.push(Math.sin(radians(k * angleDeg)), Math.cos(radians(k * angleDeg)));
  }
  return row;
}

/** Largest angle, up to 360 degrees, in which none of the directions lies. */
export function largestGapDeg(directionsDeg: readonly number[]): number {
  const sorted = directionsDeg.map(within360).sort((a, b) => a - b);
  if (sorted.length === 0) return 360;
  const gaps = sorted.map((angle, k) => (k + 1 < sorted.length ? sorted[k + 1] : sorted[0] + 360) - angle);
  return Math.max(...gaps);
}

export interface WeightedFit {
  readonly coefficients: readonly number[];
  /** Covariance of the coefficients. */
  readonly covariance: readonly (readonly number[])[];
  readonly residuals: readonly number[];
  /** ln det XᵀWX. */
  readonly logDeterminant: number;
}

/** Weighted least squares; weights are one over the variances. */
export function weightedFit(
  design: readonly (readonly number[])[],
  values: readonly number[],
  variances: readonly number[],
): WeightedFit {
  const x = new Matrix(design.map((row, i) => row.map((value) => value / Math.sqrt(variances[i]))));
  const y = Matrix.columnVector(values.map((value, i) => value / Math.sqrt(variances[i])));
  const normal = x.transpose().mmul(x);
  const covariance = pseudoInverse(normal);
  const coefficients = covariance.mmul(x.transpose()).mmul(y).to1DArray();
  return {
    coefficients,
    covariance: covariance.to2DArray(),
    residuals: values.map(
      (value, i) => value - design[i].reduce((sum, entry, k) => sum + entry * coefficients[k], 0),
    ),
    logDeterminant: Math.log(determinant(normal)),
  };
}
