/**
 * Corrected Akaike information criterion, −2 log L + 2k + 2k(k + 1)/(n − k − 1) (Hurvich & Tsai 1989,
 * Biometrika 76:297; from memory).
 *
 * @param deviance −2 log L at the maximum of the likelihood
 * @param parameterCount k, variances counted
 * @param count n: dances, not runs, since the runs of a dance say little of the curve that one does not
 * @returns the criterion, or null where n ≤ k + 1 leaves it undefined
 */
export function correctedAkaike(deviance: number, parameterCount: number, count: number): number | null {
  const spare = count - parameterCount - 1;
  if (spare <= 0) return null;
  return deviance + 2 * parameterCount + (2 * parameterCount * (parameterCount + 1)) / spare;
}
