import { z } from 'zod';
import { callKindNames } from '../dance/call-kinds/registry.ts';

/**
 * The tables that go in and out: column names, types and units. Columns may be appended, never renamed.
 * Times are seconds from the recording's start; clock times are ISO 8601 with offset. An empty cell means
 * unknown (null here), never zero.
 */

const text = z.string().nullable();
const number = z.number().nullable();
const whole = z.number().int().nullable();
const share = z.number().min(0).max(1).nullable();

export const statusSchema = z.enum(['found', 'accepted', 'rejected', 'added']);
export const callKindSchema = z.enum(callKindNames);

/** One row per pulse train, that is, per waggle run heard. */
export const trainSchema = z.object({
  recording: z.string(),
  channel: z.number().int().min(1),
  train_id: z.string(),
  dance_id: text,
  start_s: z.number(),
  end_s: z.number(),
  duration_s: number,
  pulse_count: whole,
  pulse_rate_hz: number,
  carrier_hz: number,
  snr_db: number,
  confidence: share,
  start_time: text,
  status: statusSchema,
  /** Other channels on which the same run was heard, such as `2;3`. */
  also_channels: text.optional(),
});

/** One row per call: sounds of bees that are not dance sound. */
export const callSchema = z.object({
  recording: z.string(),
  channel: z.number().int().min(1),
  call_id: z.string(),
  kind: callKindSchema,
  start_s: z.number(),
  end_s: z.number(),
  duration_s: number,
  carrier_hz: number,
  snr_db: number,
  confidence: share,
  start_time: text,
  status: statusSchema,
});

/** One row per dance. */
export const danceSchema = z.object({
  recording: z.string(),
  channel: z.number().int().min(1),
  dance_id: z.string(),
  start_s: z.number(),
  end_s: z.number(),
  run_count: z.number().int(),
  used_runs: whole,
  mean_duration_s: number,
  sd_duration_s: number,
  mean_return_s: number,
  circuits_per_15s: number,
  carrier_hz: number,
  bee_id: text,
  feeder_id: text,
  treatment: text,
  comb_angle_deg: number,
  distance_m: number,
  distance_low_m: number,
  distance_high_m: number,
  level: number,
  in_range: z.boolean().nullable(),
  bearing_deg: number,
  latitude: number,
  longitude: number,
});

/** In, one row per run: the dances a calibration learns from, or (without distance_m) dances to be estimated. */
export const observationSchema = z.object({
  bee_id: text,
  dance_id: z.string(),
  distance_m: number,
  duration_s: number,
  circuits_per_15s: number,
  treatment: text,
});

/** Out, one row per dance of unknown distance. */
export const estimateSchema = z.object({
  dance_id: z.string(),
  bee_id: text,
  run_count: z.number().int(),
  used_runs: z.number().int(),
  mean_duration_s: number,
  circuits_per_15s: number,
  distance_m: number,
  distance_low_m: number,
  distance_high_m: number,
  level: z.number(),
  in_range: z.boolean().nullable(),
  note: text,
  treatment: text,
  /** Treatment of the dances that the curve was fitted to. */
  curve_treatment: text,
});

export type TrainRow = z.infer<typeof trainSchema>;
export type CallRow = z.infer<typeof callSchema>;
export type DanceRow = z.infer<typeof danceSchema>;
export type ObservationRow = z.infer<typeof observationSchema>;
export type EstimateRow = z.infer<typeof estimateSchema>;
export type Status = z.infer<typeof statusSchema>;
export type CallKind = z.infer<typeof callKindSchema>;
