import { Matrix, SingularValueDecomposition } from 'ml-matrix';

/** Points to fit: n predictors and n responses. */
export interface Points {
  readonly x: readonly number[];
  readonly y: readonly number[];
}

/** A model of y on x with p parameters. */
export interface Model {
  value(x: number, parameters: readonly number[]): number;
  /** Derivatives of `value` by each parameter; central differences stand in where it is not given. */
  gradient?(x: number, parameters: readonly number[]): number[];
}

/** A model seen through its tangent plane at certain parameters. */
export interface Linearisation {
  readonly residualSum: number;
  /** The Gauss–Newton step: what to add to the parameters to reach the minimum on the tangent plane. */
  readonly step: readonly number[];
  /** Length of the residuals' part in the tangent plane. */
  readonly tangentLength: number;
  /** That part beside the part across it, each per degree of freedom (Bates & Watts 1981). */
  readonly relativeOffset: number;
  /** Condition number of the Jacobian with columns scaled to length 1. */
  readonly condition: number;
  /** (JᵀJ)⁻¹. */
  readonly inverseCrossproduct: readonly (readonly number[])[];
}

/** Sum of squared residuals. */
export function sumOfSquares(points: Points, model: Model, parameters: readonly number[]): number {
  let sum = 0;
  for (let i = 0; i < points.x.length; i++) {
    sum += (points.y[i] - model.value(points.x[i], parameters)) ** 2;
  }
  return sum;
}

/** Derivatives of the model at x by each parameter, given or by central differences. */
export function gradientAt(model: Model, x: number, parameters: readonly number[]): number[] {
  if (model.gradient !== undefined) return model.gradient(x, parameters);
  return parameters.map((value, index) => {
    // The cube root of the rounding unit balances rounding against curvature in a central difference.
    const step = Math.cbrt(Number.EPSILON) * (value === 0 ? 1 : Math.abs(value));
    const above = parameters.with(index, value + step);
    const below = parameters.with(index, value - step);
    return (model.value(x, above) - model.value(x, below)) / (above[index] - below[index]);
  });
}

/** Lengths of the Jacobian's columns; 1 for a column of zeros or of no numbers. */
export function columnLengths(points: Points, model: Model, parameters: readonly number[]): number[] {
  const squares = new Array<number>(parameters.length).fill(0);
  for (const x of points.x) {
    gradientAt(model, x, parameters).forEach((slope, index) => {
      squares[index] += slope ** 2;
    });
  }
  return squares.map((square) => (square > 0 && Number.isFinite(square) ? Math.sqrt(square) : 1));
}

/** The model's tangent plane at these parameters, or undefined where values or slopes are not finite. */
export function linearise(
  points: Points,
  model: Model,
  parameters: readonly number[],
): Linearisation | undefined {
  const count = points.x.length;
  const size = parameters.length;
  const lengths = columnLengths(points, model, parameters);
  const scaled = points.x.map((x) => gradientAt(model, x, parameters).map((slope, j) => slope / lengths[j]));
  const residuals = points.x.map((x, i) => points.y[i] - model.value(x, parameters));
  if (!residuals.every(Number.isFinite) || !scaled.every((row) => row.every(Number.isFinite)))
    return undefined;

  const decomposition = new SingularValueDecomposition(new Matrix(scaled));
  const left = decomposition.leftSingularVectors;
  const right = decomposition.rightSingularVectors;
  const singular = decomposition.diagonal;
  const along = singular.map((_, k) => residuals.reduce((sum, value, i) => sum + left.get(i, k) * value, 0));
  const inPlane = along.reduce((sum, value) => sum + value ** 2, 0);
  const residualSum = residuals.reduce((sum, value) => sum + value ** 2, 0);
  const across = Math.max(residualSum - inPlane, 0);
  const combine = (j: number, weight: (k: number) => number) =>
    singular.reduce((sum, _, k) => sum + right.get(j, k) * weight(k), 0);
  return {
    residualSum,
    step: parameters.map((_, j) => combine(j, (k) => along[k] / singular[k]) / lengths[j]),
    tangentLength: Math.sqrt(inPlane),
    relativeOffset: Math.sqrt(inPlane / size) / Math.sqrt(across / (count - size)),
    condition: singular[0] / singular[size - 1],
    inverseCrossproduct: parameters.map((_, i) =>
      parameters.map(
        (_, j) => combine(i, (k) => right.get(j, k) / singular[k] ** 2) / (lengths[i] * lengths[j]),
      ),
    ),
  };
}
