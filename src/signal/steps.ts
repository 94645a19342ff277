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
 * @param mayDrift whether what a straight line explains as well is no step
 * @returns indices at which a new part begins, ascending
 */
export function stepsOf(
  observations: readonly Observation[],
  least: number,
  leastChiSquare: number,
  mayDrift = false,
): number[] {
  const { chiSquare, at } = largestStep(observations, least);
  const enough = mayDrift ? Math.max(leastChiSquare, driftOf(observations)) : leastChiSquare;
  if (at === 0 || chiSquare < enough) return [];
  const steps = (part: readonly Observation[]) => stepsOf(part, least, leastChiSquare, mayDrift);
  return [...steps(observations.slice(0, at)), at, ...steps(observations.slice(at)).map((step) => at + step)];
}

/** Chi-square of a straight line through the observations, evenly spaced, over their mean. */
function driftOf(observations: readonly Observation[]): number {
  const sumOf = (value: (one: Observation, n: number) => number) =>
    observations.reduce((sum, one, n) => sum + one.weight * value(one, n), 0);
  const middle = sumOf((_, n) => n) / sumOf(() => 1);
  const spread = sumOf((_, n) => (n - middle) ** 2);
  const width = observations[0]?.values.length ?? 0;
  let chiSquare = 0;
  for (let k = 0; k < width; k++) {
    chiSquare += sumOf(({ values }, n) => (n - middle) * values[k]!) ** 2 / spread;
  }
  return chiSquare;
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
