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

/** A linear fit by weighted least squares. */
export interface WeightedFit {
  readonly coefficients: readonly number[];
  /** Covariance of the coefficients. */
  readonly covariance: readonly (readonly number[])[];
  readonly residuals: readonly number[];
  /** ln det XᵀWX. */
  readonly logDeterminant: number;
}

/** Weighted least squares by the normal equations; weights are one over the variances. */
export function weightedFit(
  design: readonly (readonly number[])[],
  values: readonly number[],
  variances: readonly number[],
): WeightedFit {
  const size = design[0].length;
  const normal = Matrix.zeros(size, size);
  const right = Matrix.zeros(size, 1);
  design.forEach((row, i) => {
    for (let j = 0; j < size; j++) {
      right.set(j, 0, right.get(j, 0) + (row[j] * values[i]) / variances[i]);
      for (let k = 0; k < size; k++) normal.set(j, k, normal.get(j, k) + (row[j] * row[k]) / variances[i]);
    }
  });
  const covariance = pseudoInverse(normal);
  const coefficients = covariance.mmul(right).to1DArray();
  return {
    coefficients,
    covariance: covariance.to2DArray(),
    residuals: values.map(
      (value, i) => value - design[i].reduce((sum, entry, k) => sum + entry * coefficients[k], 0),
    ),
    logDeterminant: Math.log(determinant(normal)),
  };
}
