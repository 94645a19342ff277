/**
 * Corrected Akaike information criterion of a least-squares fit with normal errors, up to a constant that is
 * the same for all fits to the same responses: n·ln(RSS/n) + 2k + 2k(k + 1)/(n − k − 1), with k = p + 1 since
 * the variance is estimated too (Hurvich & Tsai 1989, Biometrika 76:297; from memory).
 *
 * @param residualSum sum of squared residuals, in the responses' unit squared
 * @param responses the n responses
 * @param parameterCount p
 * @returns the criterion, or null where n ≤ p + 2 leaves it undefined
 */
export function correctedAkaike(
  residualSum: number,
  responses: readonly number[],
  parameterCount: number,
): number | null {
  const count = responses.length;
  const k = parameterCount + 1;
  if (count - k - 1 <= 0) return null;
  // Responses that lie on the curve exactly leave only rounding, whose logarithm must not choose a curve.
  const rounding = 1e-20 * responses.reduce((sum, value) => sum + value ** 2, 0);
  const variance = Math.max(residualSum, rounding) / count;
  return count * Math.log(variance) + 2 * k + (2 * k * (k + 1)) / (count - k - 1);
}
