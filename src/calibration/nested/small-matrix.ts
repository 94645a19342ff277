/** The inverse of a symmetric positive definite matrix and the logarithm of its determinant. */
export interface Inverted {
  readonly inverse: Float64Array;
  readonly logDeterminant: number;
}

// A pivot this small beside its diagonal: the columns are dependent as far as rounding lets one see.
const smallestPivot = 1e-12;

/** Cholesky factor (lower, row by row) of a symmetric matrix, or undefined when it is not positive definite. */
export function cholesky(matrix: ArrayLike<number>, size: number): Float64Array | undefined {
  const lower = new Float64Array(size * size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = matrix[i * size + j];
      for (let k = 0; k < j; k++) sum -= lower[i * size + k] * lower[j * size + k];
      if (i === j) {
        if (!(sum > smallestPivot * matrix[i * size + i])) return undefined;
        lower[i * size + i] = Math.sqrt(sum);
      } else {
        lower[i * size + j] = sum / lower[j * size + j];
      }
    }
  }
  return lower;
}

/**
 * Inverts a symmetric positive definite matrix of a few rows (row by row). Written out here because a general
 * library's allocations would cost more than the likelihood that asks for it a hundred thousand times.
 *
 * @returns undefined when it is not positive definite
 */
export function invertSymmetric(matrix: ArrayLike<number>, size: number): Inverted | undefined {
  const lower = cholesky(matrix, size);
  if (lower === undefined) return undefined;
  let logDeterminant = 0;
  const half = new Float64Array(size * size);
  for (let i = 0; i < size; i++) {
    logDeterminant += 2 * Math.log(lower[i * size + i]);
    half[i * size + i] = 1 / lower[i * size + i];
    for (let j = 0; j < i; j++) {
      let sum = 0;
      for (let k = j; k < i; k++) sum -= lower[i * size + k] * half[k * size + j];
      half[i * size + j] = sum / lower[i * size + i];
    }
  }
  const inverse = new Float64Array(size * size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = 0;
      for (let k = i; k < size; k++) sum += half[k * size + i] * half[k * size + j];
      inverse[i * size + j] = sum;
      inverse[j * size + i] = sum;
    }
  }
  return { inverse, logDeterminant };
}

/** target + matrix·vector. */
export function addProduct(
  target: Float64Array,
  matrix: ArrayLike<number>,
  vector: ArrayLike<number>,
  size: number,
): Float64Array {
  for (let i = 0; i < size; i++) for (let j = 0; j < size; j++) target[i] += matrix[i * size + j] * vector[j];
  return target;
}
