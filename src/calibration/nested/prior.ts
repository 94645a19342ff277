import type { Variances } from './variances.ts';

/**
 * Logarithm of the prior density of the searched logarithms.
 *
 * SD between bees and between dances: half-Cauchy about nothing (Gelman 2006, Bayesian Analysis 1:515, for
 * variances of few groups; from memory), its scale 0.35 of the runs' SD where they vary least: flat where bees
 * differ less than that, falling slowly where they would differ more. Chosen on the coverage bench, where a
 * scale of 1 made intervals from three bees too wide and 0.35 covers also when bees differ as runs do. Runs' SD:
 * flat in its logarithm; there are always enough runs for it not to matter.
 */
export function logPrior({ bee, dance, nearRunSd, farRunSd }: Variances): number {
  const scale = (scaleShare * Math.min(nearRunSd, farRunSd)) ** 2;
  return ofSd(bee, scale) + ofSd(dance, scale);
}

const scaleShare = 0.35;

/** Half-Cauchy of σ/scale, as a density of log σ: (σ/scale)/(1 + σ²/scale²). */
function ofSd(variance: number, scale: number): number {
  if (variance <= 0) return 0;
  return 0.5 * Math.log(variance / scale) - Math.log1p(variance / scale);
}
