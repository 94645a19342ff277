import type { RunSummary } from './runs.ts';

/**
 * Parts the scatter of dance means about the curve into that of runs within dances and that between dances,
 * by the method of moments: a dance mean of k runs has variance B² + R²/k, and R² is pooled within dances.
 *
 * @param residualSdS SD of dance means about the curve (s)
 * @returns B (never below 0) and R (null where no dance has two used runs), in seconds
 */
export function spread(
  dances: readonly RunSummary[],
  residualSdS: number,
): { betweenDanceSdS: number; runSdS: number | null } {
  const freedom = dances.reduce((sum, dance) => sum + dance.usedRuns - 1, 0);
  if (freedom === 0) return { betweenDanceSdS: residualSdS, runSdS: null };
  const runVariance = dances.reduce((sum, dance) => sum + dance.squaredDeviations, 0) / freedom;
  const meanShare = dances.reduce((sum, dance) => sum + 1 / dance.usedRuns, 0) / dances.length;
  const between = Math.max(residualSdS ** 2 - runVariance * meanShare, 0);
  return { betweenDanceSdS: Math.sqrt(between), runSdS: Math.sqrt(runVariance) };
}
