import type { Variances } from './variances.ts';

/**
 * Logarithm of the prior density of the searched logarithms.
 *
 * SD between bees and between dances: half-Cauchy about nothing with the runs' SD as its scale (Gelman 2006,
 * Bayesian Analysis 1:515, for variances of few groups; from memory): flat where bees differ less than runs,
 * as published scatter has it, falling where they would differ much more. Runs' SD: flat in its logarithm;
 * there are always enough runs for it not to matter.
 */
export function logPrior({ bee, dance, nearRunSd, farRunSd }: Variances): number {
  const scale = (0.5 * Math.min(nearRunSd, farRunSd)) ** 2;
  return ofSd(bee, scale) + ofSd(dance, scale);
}

/** Half-Cauchy of σ/scale, as a density of log σ: (σ/scale)/(1 + σ²/scale²). */
function ofSd(variance: number, scale: number): number {
  if (variance <= 0) return 0;
  return 0.5 * Math.log(variance / scale) - Math.log1p(variance / scale);
}
