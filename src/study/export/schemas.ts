import { z } from 'zod';
import { bearingSchema } from '../bearings-tables.ts';
import { arrivalTableSchema } from '../day/arrivals.ts';
import { arrivalLatencySchema, dayDanceSchema, dayHourSchema } from '../day/day-tables.ts';
import { feederTableSchema } from '../feeders.ts';
import { openingTableSchema } from '../openings.ts';
import { eventSchema, soundKindSchema } from '../study-schemas.ts';
import { callSchema, danceSchema, estimateSchema, trainSchema } from '../tables.ts';

/** The tables of an exported study: those of a detection, with more columns, and all that the store keeps beside. */

const text = z.string().nullable();
const number = z.number().nullable();
const id = z.number().int().min(1);
const count = z.number().int().min(0);

/** Where a row comes from, who last wrote it. */
const origin = {
  recording_id: id,
  edited: z.boolean(),
  detection_id: id.nullable(),
  sources: text,
  reviewer: text,
  reviewed_at: text,
};

export const recordingTableSchema = z.object({
  recording: z.string(),
  recording_id: id,
  stem: z.string(),
  path: z.string(),
  sha256: z.string(),
  byte_count: count,
  sample_rate_hz: z.number(),
  channel_count: id,
  duration_s: z.number(),
  start_time: text,
  warnings: text,
  added_at: z.string(),
});

export const detectionTableSchema = z.object({
  detection_id: id,
  recording: z.string(),
  recording_id: id,
  settings_hash: z.string(),
  settings: z.string(),
  combtone_version: z.string(),
  made_at: z.string(),
  kept: count,
  same: count,
  new: count,
  gone: count,
});

export const detectedSoundTableSchema = z.object({
  detection_id: id,
  sound_id: z.string(),
  kind: soundKindSchema,
  channel: id,
  start_s: z.number(),
  end_s: z.number(),
  carrier_hz: number,
  snr_db: number,
  confidence: number,
  pulse_count: count.nullable(),
});

export const pulseTableSchema = z.object({
  detection_id: id,
  sound_id: z.string(),
  pulse: id,
  time_s: z.number(),
});

export const trainTableSchema = trainSchema.omit({ also_channels: true }).extend(origin);

export const callTableSchema = callSchema.extend({
  pulse_count: count.nullable(),
  pulse_rate_hz: number,
  ...origin,
});

export const danceTableSchema = danceSchema.extend({
  start_s: number,
  end_s: number,
  recording_id: id,
  start_time: text,
  paint_mark: text,
  feeder_source: z.enum(['reviewer', 'opening']).nullable(),
  feeder_distance_m: number,
  reviewed_runs: count,
  bearing_low_deg: number,
  bearing_high_deg: number,
  flags: text,
  note: text,
  reviewer: text,
  reviewed_at: text,
  part_of: text,
});

export const eventTableSchema = z.object({
  event_id: id,
  at: z.string(),
  reviewer: z.string(),
  kind: eventSchema.shape.kind,
  recording: text,
  recording_id: id.nullable(),
  undo_of: id.nullable(),
  target_kind: z.enum(['sound', 'dance']).nullable(),
  target: text,
  before: text,
  after: text,
});

export const calibrationTableSchema = z.object({
  calibration_id: id,
  name: z.string(),
  at: z.string(),
  reviewer: z.string(),
  combtone_version: z.string(),
  curve: text,
  tempo_curve: text,
  feeders: count,
  bees: count,
  dances: count,
  runs: count,
  nearest_feeder_m: z.number(),
  farthest_feeder_m: z.number(),
  dance_ids: text,
  file: z.string(),
});

export const parameterTableSchema = z.object({
  calibration_id: id,
  measure: z.enum(['duration', 'tempo']),
  parameter: z.string(),
  unit: text,
  value: z.number(),
  standard_error: z.number(),
});

/** Every table of an export by its file's name without ending, in the order of the dictionary. */
export const exportSchemas = {
  recordings: recordingTableSchema,
  trains: trainTableSchema,
  calls: callTableSchema,
  dances: danceTableSchema,
  estimates: estimateSchema,
  bearings: bearingSchema,
  feeders: feederTableSchema,
  openings: openingTableSchema,
  arrivals: arrivalTableSchema,
  day_dances: dayDanceSchema,
  day_hours: dayHourSchema,
  day_arrivals: arrivalLatencySchema,
  calibrations: calibrationTableSchema,
  calibration_parameters: parameterTableSchema,
  detections: detectionTableSchema,
  detected_sounds: detectedSoundTableSchema,
  pulses: pulseTableSchema,
  events: eventTableSchema,
} as const;

export type TableName = keyof typeof exportSchemas;
/** Rows of every table; they may be gone through more than once, and are not all held. */
export type ExportTables = { readonly [N in TableName]: Iterable<z.infer<(typeof exportSchemas)[N]>> };
export type RowOf<N extends TableName> = z.infer<(typeof exportSchemas)[N]>;
