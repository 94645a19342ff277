import { z } from 'zod';

/** The tables that `combtone day` writes. */

const text = z.string().nullable();
const number = z.number().nullable();
const count = z.number().int().min(0);

/** One row per dance: what it says of its source, and its comb angle against the one to expect. */
export const dayDanceSchema = z.object({
  dance_id: z.string(),
  bee_id: text,
  feeder_id: text,
  start_time: text,
  hour: number,
  run_count: count,
  dance_duration_s: z.number(),
  circuits_per_15s: number,
  mean_return_s: number,
  begging_calls: count,
  begging_calls_per_min: number,
  comb_angle_deg: number,
  expected_comb_angle_deg: number,
  deviation_deg: number,
  sun_azimuth_deg: number,
  sun_elevation_deg: number,
  flags: text,
});

/** One row per hour of the day, all days together. */
export const dayHourSchema = z.object({
  hour: count,
  recorded_min: z.number(),
  dances: count,
  dances_per_hour: number,
  runs: count,
  mean_run_count: number,
  mean_dance_duration_s: number,
  mean_circuits_per_15s: number,
  mean_return_s: number,
  begging_calls: count,
  begging_calls_per_min: number,
});

/** One row per arrival at a feeder, with the dances for that feeder before it. */
export const arrivalLatencySchema = z.object({
  time: z.string(),
  feeder_id: z.string(),
  mark: text,
  /** Empty marks are recruits, or bees never marked; a dancer's own mark is not. */
  recruit: z.boolean(),
  last_dance_id: text,
  latency_s: number,
  dances_before: count,
  runs_before: count,
});

export type DayDanceRow = z.infer<typeof dayDanceSchema>;
export type DayHourRow = z.infer<typeof dayHourSchema>;
export type ArrivalLatencyRow = z.infer<typeof arrivalLatencySchema>;
