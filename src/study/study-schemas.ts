import { z } from 'zod';
import { callKindSchema, statusSchema } from './tables.ts';

/**
 * Rows of a study as the store holds them, what a reviewer may do to them, and study.json. Pure: the page
 * imports it too. Times are s from the recording's start, clock times ISO 8601, null is unknown. A row's
 * `version` is the id of the event that last wrote it; an edit names the version it was made on.
 */

const text = z.string().nullable();
const number = z.number().nullable();
const count = z.number().int().min(0);
const name = z.string().trim().min(1).max(120);
const detail = z.string().trim().min(1).max(2000).nullable();

/** A train or one of the calls: kinds change into each other without the sound losing its id. */
export const soundKindSchema = z.enum(['train', ...callKindSchema.options]);

export const soundSchema = z.object({
  id: z.string(),
  version: count,
  recordingId: count,
  channel: z.number().int().min(1),
  kind: soundKindSchema,
  startS: z.number(),
  endS: z.number(),
  /** Dance a train belongs to; null for calls and lone trains. */
  danceId: text,
  pulseCount: count.nullable(),
  pulseRateHz: number,
  carrierHz: number,
  snrDb: number,
  confidence: number,
  status: statusSchema,
  /** Whether a reviewer has changed or judged it; such rows outlive a new detection. */
  edited: z.boolean(),
  /** Detection it came from, and whose pulses it has; null for what a reviewer added. */
  detectionId: count.nullable(),
});

/** A sound as a window lists it: with the middle of each pulse. */
export const windowSoundSchema = soundSchema.extend({ pulseTimesS: z.array(z.number()) });

/** What a reviewer says of a dance. */
export const danceDetailsSchema = z.object({
  beeId: text,
  paintMark: text,
  /** The reviewer's feeder where `feederSource` is 'reviewer', else the one that the openings make likely. */
  feederId: text,
  treatment: text,
  combAngleDeg: number,
  note: text,
});

export const danceSchema = danceDetailsSchema.extend({
  id: z.string(),
  version: count,
  recordingId: count,
  channel: z.number().int().min(1),
  feederSource: z.enum(['reviewer', 'opening']).nullable(),
  /** Feeders that were open at once; then feederId is left to the reviewer. Empty where there is no conflict. */
  feederConflict: z.array(z.string()),
  /** Known distance of the feeder, m. */
  feederDistanceM: number,
  startS: z.number(),
  endS: z.number(),
  startTime: text,
  runCount: count,
  usedRuns: count,
  reviewedRuns: count,
  meanDurationS: number,
  sdDurationS: number,
  meanReturnS: number,
  circuitsPer15s: number,
  carrierHz: number,
});

/** What of a dance lies in one recording: the whole of it, or a part where it goes on across recordings. */
export const dancePartSchema = danceSchema.extend({
  /** The recording's file name. */
  recording: z.string(),
  /** Id of the first part of the dance that this one is a part of; null in the first part, or alone. */
  partOf: text,
  /** Id of the part in the next recording. */
  goesOnAs: text,
});

/**
 * A dance from its first run to its last: under the id of its first part, with times from the start of that part's
 * recording, and counts and means of all its runs.
 */
export const wholeDanceSchema = danceSchema.extend({
  /** In order; empty where the dance lies in one recording. */
  parts: z.array(dancePartSchema),
});

export const feederSchema = z.object({
  feederId: z.string(),
  distanceM: number,
  bearingDeg: number,
  latitude: number,
  longitude: number,
  paintMark: text,
});
export const openingSchema = z.object({ feederId: z.string(), start: z.string(), end: z.string() });

/** study.json. */
export const studySettingsSchema = z.strictObject({
  format: z.literal('combtone study'),
  formatVersion: z.literal(1),
  name,
  hive: z.strictObject({
    latitude: z.number().min(-90).max(90).nullable(),
    longitude: z.number().min(-180).max(180).nullable(),
    elevationM: z.number().min(-500).max(9000).nullable(),
    /** IANA name, such as Europe/Berlin; clock times without an offset are read in it. */
    timeZone: text,
  }),
  comb: z.strictObject({
    /** Side of the comb the dances are seen on, and whether gravity is down the comb. */
    orientation: z.enum(['vertical', 'horizontal']),
    /** Compass direction the viewed side faces, degrees from true north. */
    facingDeg: z.number().min(0).lt(360).nullable(),
  }),
  /** Channels to search, from 1; empty for all. */
  channels: z.array(z.number().int().min(1)),
  band: z.strictObject({ lowHz: z.number().min(100).max(700), highHz: z.number().min(100).max(700) }),
  speciesNote: text,
});

export const progressSchema = z.object({ sounds: count, reviewed: count, dances: count });

const target = z.strictObject({ id: z.string(), version: count });
const targets = z.array(target).min(1).max(1000);
const timeS = z.number().min(0);

/** What a reviewer does. Sounds judged or moved become accepted (an added one stays added). */
export const editSchema = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('accept'), targets }),
  z.strictObject({ kind: z.literal('reject'), targets }),
  z.strictObject({ kind: z.literal('times'), target, startS: timeS, endS: timeS }),
  z.strictObject({ kind: z.literal('sound-kind'), targets, soundKind: soundKindSchema }),
  /** The first part ends and the second begins here; the sound keeps its id as the first. */
  z.strictObject({ kind: z.literal('split'), target, firstEndS: timeS, secondStartS: timeS }),
  /** Into the first in time, from its start to the latest end. */
  z.strictObject({ kind: z.literal('join'), targets: targets.min(2) }),
  z.strictObject({
    kind: z.literal('add'),
    recordingId: count,
    channel: z.number().int().min(1),
    soundKind: soundKindSchema,
    startS: timeS,
    endS: timeS,
    danceId: text.default(null),
  }),
  /** To a dance, 'new' for one of its own, or null for none. */
  z.strictObject({ kind: z.literal('assign'), targets, danceId: z.string().nullable() }),
  z.strictObject({
    kind: z.literal('dance'),
    target,
    changes: z.strictObject({
      beeId: detail.optional(),
      paintMark: detail.optional(),
      /** 'auto' gives the feeder back to the openings; null says that it is none of the feeders. */
      feederId: detail.optional(),
      treatment: detail.optional(),
      combAngleDeg: z.number().min(0).lt(360).nullable().optional(),
      note: detail.optional(),
    }),
  }),
]);

export const eventSchema = z.object({
  id: count,
  at: z.string(),
  reviewer: z.string(),
  kind: z.enum([
    'detect',
    'import',
    'undo',
    'redo',
    ...editSchema.options.map((option) => option.shape.kind.value),
  ]),
  recordingId: count.nullable(),
  /** Ids of the sounds and dances it wrote; for a detection or an import none are listed. */
  targets: z.array(z.string()),
  /** Event taken back (undo) or, for a redo, the undo taken back. */
  undoOf: count.nullable(),
});

export type SoundKind = z.infer<typeof soundKindSchema>;
export type Sound = z.infer<typeof soundSchema>;
export type WindowSound = z.infer<typeof windowSoundSchema>;
export type Dance = z.infer<typeof danceSchema>;
export type DancePart = z.infer<typeof dancePartSchema>;
export type WholeDanceRow = z.infer<typeof wholeDanceSchema>;
export type DanceDetails = z.infer<typeof danceDetailsSchema>;
export type Feeder = z.infer<typeof feederSchema>;
export type Opening = z.infer<typeof openingSchema>;
export type StudySettings = z.infer<typeof studySettingsSchema>;
export type Progress = z.infer<typeof progressSchema>;
export type Edit = z.infer<typeof editSchema>;
export type ReviewEvent = z.infer<typeof eventSchema>;
