import { timeBeyond } from './beyond.ts';
import type { Curve } from './curves/curve.ts';
import type { NestedData } from './nested/data.ts';
import type { Draw } from './nested/draws.ts';
import { runSdAt } from './nested/variances.ts';

/** What is known of one bee under one draw: her deviation from the curve (s) and its variance (s²). */
export interface BeeKnowledge {
  readonly mean: number;
  readonly variance: number;
}

/** A bee not met before: no deviation known, the whole variance between bees. */
export function unknownBee(draw: Draw): BeeKnowledge {
  return { mean: 0, variance: draw.variances.bee };
}

/**
 * What the calibration's dances of one bee say of her deviation under a draw: the normal posterior of a random
 * effect, mean h·Σ w e and variance h with h = bee variance/(1 + bee variance·Σw) (Laird & Ware 1982,
 * Biometrics 38:963; from memory).
 *
 * @param bee index of the bee in the data
 */
export function knownBee(curve: Curve, data: NestedData, bee: number, draw: Draw): BeeKnowledge {
  const { variances } = draw;
  let total = 0;
  let sum = 0;
  for (let j = data.beeStart[bee]; j < data.beeStart[bee + 1]; j++) {
    const runSd = runSdAt(data.reach[j], data.reaches[0], variances);
    const w = 1 / (variances.dance + runSd ** 2 / data.count[j]);
    total += w;
    sum += w * (data.mean[j] - curve.value(data.reach[j] * data.farthestM, draw.parameters));
  }
  const h = variances.bee / (1 + variances.bee * total);
  return { mean: h * sum, variance: h };
}

/**
 * Log likelihood of a dance's distance from the mean of its used runs, averaged over draws: normal about the
 * curve and the bee's deviation, with what is left of the variance between bees, the variance between dances
 * and the runs' variance over their number.
 *
 * @param nearReach reach of the nearest feeder
 * @param known what is known of the bee, one for each draw
 */
export function meanLogLikelihood(
  curve: Curve,
  draws: readonly Draw[],
  nearReach: number,
  farthestM: number,
  known: readonly BeeKnowledge[],
  meanS: number,
  usedRuns: number,
): (distanceM: number) => number {
  const logs = new Float64Array(draws.length);
  const fixed = Float64Array.from(draws, (draw, s) => known[s].variance + draw.variances.dance);
  const expectedS = Float64Array.from(known, ({ mean }) => meanS - mean);
  return (distanceM) => {
    const reach = distanceM / farthestM;
    for (let s = 0; s < logs.length; s++) {
      const { parameters, variances } = draws[s];
      const variance = fixed[s] + runSdAt(reach, nearReach, variances) ** 2 / usedRuns;
      const residual = expectedS[s] - timeBeyond(curve, parameters, distanceM, farthestM);
      logs[s] = -0.5 * (Math.log(variance) + (residual * residual) / variance);
    }
    return logMeanExp(logs);
  };
}

/** log of the mean of exponentials, without overflow. */
export function logMeanExp(logs: Float64Array): number {
  let most = Number.NEGATIVE_INFINITY;
  for (const value of logs) most = Math.max(most, value);
  if (!Number.isFinite(most)) return most;
  let sum = 0;
  for (const value of logs) sum += Math.exp(value - most);
  return most + Math.log(sum / logs.length);
}
