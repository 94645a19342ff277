import { z } from 'zod';
import { neighbourhoods } from '../calibration/estimate.ts';
import type { CalibrationRecord } from './calibration-record.ts';
import type { Estimated } from './estimates.ts';
import { textTable } from './text-table.ts';

/** One row per dance and feeder: the probability that the dance is for that feeder's neighbourhood. */
export const neighbourhoodSchema = z.object({
  dance_id: z.string(),
  feeder_m: z.number(),
  from_m: z.number(),
  to_m: z.number(),
  probability: z.number(),
});

export type NeighbourhoodRow = z.infer<typeof neighbourhoodSchema>;

/** Probabilities within each feeder's neighbourhood, of every dance whose distance could be told. */
export function neighbourhoodRows(record: CalibrationRecord, told: readonly Estimated[]): NeighbourhoodRow[] {
  const measure = record.duration ?? record.tempo;
  const feedersM = (measure?.dances ?? []).map(([, , distanceM]) => distanceM);
  return told.flatMap(({ row, estimate }) => {
    if (estimate?.posterior === undefined || estimate.highM === null) return [];
    return neighbourhoods(estimate.posterior, feedersM).map(({ feederM, fromM, toM, probability }) => ({
      dance_id: row.dance_id,
      feeder_m: feederM,
      from_m: fromM,
      to_m: toM,
      probability: Math.round(probability * 1e4) / 1e4,
    }));
  });
}

/** The same for people to read: one line per dance, one column per feeder. */
export function neighbourhoodsText(rows: readonly NeighbourhoodRow[]): string {
  if (rows.length === 0) return '';
  const feeders = [...new Set(rows.map(({ feeder_m }) => feeder_m))];
  const danceIds = [...new Set(rows.map(({ dance_id }) => dance_id))];
  const lines = danceIds.map((danceId) => [
    danceId,
    ...rows.filter(({ dance_id }) => dance_id === danceId).map(({ probability }) => probability.toFixed(2)),
  ]);
  const header = ['probability near', ...feeders.map((feederM) => `${feederM} m`)];
  return `${textTable([header, ...lines])}\n`;
}
