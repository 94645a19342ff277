import { z } from 'zod';

const text = z.string().nullable();
const number = z.number().nullable();
const share = z.number().gt(0, 'a share between 0 and 1').lt(1, 'a share between 0 and 1');
const metres = z.number().min(0, 'metres, at least 0').nullable();
const bearing = z.number().min(-360, 'degrees').max(720, 'degrees').nullable();

/** In: what a map needs of estimates.csv. */
export const mapEstimateSchema = z.object({
  dance_id: z.string(),
  bee_id: text,
  used_runs: z.number().int().min(0, 'a whole number, at least 0').nullable(),
  distance_m: metres,
  distance_low_m: metres,
  distance_high_m: metres,
  level: share.nullable(),
  in_range: z.boolean().nullable(),
  note: text,
  treatment: text,
  curve_treatment: text,
});

/** In: what a map needs of bearings.csv. */
export const mapBearingSchema = z.object({
  dance_id: z.string(),
  bearing_deg: bearing,
  bearing_low_deg: bearing,
  bearing_high_deg: bearing,
  level: share.nullable(),
  direction_dof: z.number().gt(0, 'above 0').nullable(),
  flags: text,
});

/** In: posteriors of distance, several rows per dance, distances rising. */
export const mapPosteriorSchema = z.object({
  dance_id: z.string(),
  distance_m: z.number().min(0, 'metres, at least 0'),
  density: z.number().min(0, 'a density, at least 0'),
});

/** Out, one row per dance: the place it tells of. */
export const placeSchema = z.object({
  dance_id: z.string(),
  bee_id: text,
  weight: number,
  distance_m: number,
  distance_low_m: number,
  distance_high_m: number,
  bearing_deg: number,
  bearing_low_deg: number,
  bearing_high_deg: number,
  /** Of the point at the median distance and mean bearing. */
  latitude: number,
  longitude: number,
  area_50_ha: number,
  area_80_ha: number,
  area_95_ha: number,
  in_range: z.boolean().nullable(),
  note: text,
});

export type MapEstimateRow = z.infer<typeof mapEstimateSchema>;
export type MapBearingRow = z.infer<typeof mapBearingSchema>;
export type PlaceRow = z.infer<typeof placeSchema>;
