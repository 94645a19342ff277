import type { z } from 'zod';
import type { Estimated } from './estimates.ts';
import type { mapPosteriorSchema } from './maps-tables.ts';

type PosteriorRow = z.infer<typeof mapPosteriorSchema>;

/**
 * Posteriors of distance as a table: several rows for each dance that has a distance, distances rising (m, to the
 * millimetre), density per metre to six digits. Between rows the density runs straight.
 */
export function posteriorRows(told: readonly Estimated[]): PosteriorRow[] {
  return told.flatMap(({ row, estimate }) => {
    const posterior = estimate?.posterior;
    if (row.distance_m === null || posterior === undefined) return [];
    return Array.from(posterior.distancesM, (distanceM, k) => ({
      dance_id: row.dance_id,
      distance_m: Number(distanceM.toFixed(3)),
      density: Number(posterior.density[k]!.toPrecision(6)),
    }));
  });
}
