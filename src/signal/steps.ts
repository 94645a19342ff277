/** Values, in units of their spreads, that are all about the same until they step. */
export interface Observation {
  readonly values: readonly number[];
  /** Inverse of the variance left when values are in those units; 1 where the units say it all. */
  readonly weight: number;
}

/**
 * Where the means of a sequence step: the cut that parts it best is made where its chi-square reaches a threshold,
 * then each part is looked at by itself. Source: binary segmentation (Vostrikova 1981, Soviet Math Dokl 24:55; from
 * memory) with normal errors of known spread.
 *
 * @param least number of observations in a part
 * @param leastChiSquare Σ (difference of means)² · w_left w_right / (w_left + w_right), from which on a step is one
 * @returns indices at which a new part begins, ascending
 */
export function stepsOf(
  observations: readonly Observation[],
  least: number,
  leastChiSquare: number,
  offset = 0,
): number[] {
  const { chiSquare, at } = largestStep(observations, least);
  if (at === 0 || chiSquare < leastChiSquare) return [];
  return [
    ...stepsOf(observations.slice(0, at), least, leastChiSquare, offset),
    offset + at,
    ...stepsOf(observations.slice(at), least, leastChiSquare, offset + at),
  ];
}

function largestStep(observations: readonly Observation[], least: number): { chiSquare: number; at: number } {
  const width = observations[0]?.values.length ?? 0;
  const totals = new Float64Array(width);
  let weight = 0;
  for (const one of observations) {
    weight += one.weight;
    for (let k = 0; k < width; k++) totals[k]! += one.weight * one.values[k]!;
  }
  const sums = new Float64Array(width);
  let left = 0;
  let best = { chiSquare: 0, at: 0 };
  for (let at = 1; at <= observations.length - least; at++) {
    const before = observations[at - 1]!;
    left += before.weight;
    for (let k = 0; k < width; k++) sums[k]! += before.weight * before.values[k]!;
    if (at < least) continue;
    let chiSquare = 0;
    for (let k = 0; k < width; k++) {
      const step = sums[k]! / left - (totals[k]! - sums[k]!) / (weight - left);
      chiSquare += (step * step * left * (weight - left)) / weight;
    }
    if (chiSquare > best.chiSquare) best = { chiSquare, at };
  }
  return best;
}
