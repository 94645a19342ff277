import { z } from 'zod';
import {
  danceDetailsSchema,
  dancePartSchema,
  editSchema,
  eventSchema,
  feederSchema,
  openingSchema,
  progressSchema,
  soundSchema,
  studySettingsSchema,
  wholeDanceSchema,
  windowSoundSchema,
} from '../study/study-schemas.ts';
import { estimateSchema } from '../study/tables.ts';

export * from '../study/study-schemas.ts';

/**
 * Every body that goes over HTTP between the service and the page. Pure: the page imports it too. Times are s
 * from the recording's start, clock times ISO 8601, null is unknown. A row's `version` is the id of the event
 * that last wrote it; an edit names the version it was made on.
 */

const text = z.string().nullable();
const number = z.number().nullable();
const count = z.number().int().min(0);
const name = z.string().trim().min(1).max(120);

/** One rung of the ladder. */
export const runSchema = windowSoundSchema.extend({
  durationS: z.number(),
  /** To the next run of the dance; null for the last. */
  returnS: number,
  /** Counts in the mean: neither rejected nor, in dances of four runs or more, the first or last. */
  used: z.boolean(),
  /** Duration more than 3.5 scaled median absolute deviations from the dance's median. */
  odd: z.boolean(),
});

export const danceInHandSchema = z.object({
  /** The whole dance, whichever of its parts is asked for. */
  dance: wholeDanceSchema,
  /** Of all parts in order of start, rejected ones too; times from the start of each one's own recording. */
  runs: z.array(runSchema),
  /** Calls from 2 s before each part to 2 s after it. */
  calls: z.array(soundSchema),
});

export const recordingSchema = z.object({
  id: count,
  path: z.string(),
  sha256: z.string(),
  /** False while the file is not where the study knows it. */
  present: z.boolean(),
  sampleRateHz: z.number(),
  channelCount: count,
  durationS: z.number(),
  startTime: text,
  warnings: z.array(z.string()),
  detection: z
    .object({ id: count, madeAt: z.string(), combtoneVersion: z.string(), settings: z.unknown() })
    .nullable(),
  progress: progressSchema,
});

export const calibrationSummarySchema = z.object({
  id: count,
  name: z.string(),
  at: z.string(),
  reviewer: z.string(),
  danceIds: z.array(z.string()),
});

export const studySchema = z.object({
  combtoneVersion: z.string(),
  readOnly: z.boolean(),
  settings: studySettingsSchema,
  feeders: z.array(feederSchema),
  openings: z.array(openingSchema),
  /** Another whenever a recording has been added, begins at another time or lies elsewhere. */
  recordingsStamp: z.string(),
  recordings: z.array(recordingSchema),
  calibrations: z.array(calibrationSummarySchema),
  progress: progressSchema,
  /** Values already in use, for completion. */
  known: z.object({
    beeIds: z.array(z.string()),
    paintMarks: z.array(z.string()),
    treatments: z.array(z.string()),
  }),
  lastEventId: count,
});

/** One value for each minute of the recording. */
export const ribbonSchema = z.object({
  recordingId: count,
  durationS: z.number(),
  startTime: text,
  binS: z.number(),
  /** Seconds of waggle runs, rejected ones left out. */
  runS: z.array(z.number()),
  runs: z.array(count),
  calls: z.array(count),
  /** All trains and calls, and those of them that are reviewed. */
  sounds: z.array(count),
  reviewed: z.array(count),
});

const seconds = z.coerce.number().min(0).max(10_000_000);
const channelQuery = z.coerce.number().int().min(1).default(1);
const span = z.object({ from: seconds, to: seconds, channel: channelQuery });
const spanWithin = <S extends typeof span>(schema: S, longestS: number) =>
  schema.refine(
    (query) => {
      const lengthS = (query as z.infer<typeof span>).to - (query as z.infer<typeof span>).from;
      return lengthS > 0 && lengthS <= longestS;
    },
    { error: `later than from, by at most ${longestS} s`, path: ['to'] },
  );

export const ribbonQuerySchema = z.object({ channel: channelQuery });
export const windowQuerySchema = spanWithin(span, 3600);
export const audioQuerySchema = spanWithin(span, 120);
export const spectrogramQuerySchema = spanWithin(
  span.extend({
    /** Columns wanted at most; the hop is never under 2 ms. */
    columns: z.coerce.number().int().min(16).max(4000).default(1200),
    highHz: z.coerce.number().min(200).max(4000).default(1000),
  }),
  120,
);

/** Sounds that touch the window, and the dances they are of. */
export const windowSchema = z.object({
  recordingId: count,
  from: z.number(),
  to: z.number(),
  sounds: z.array(windowSoundSchema),
  dances: z.array(dancePartSchema),
});

export const queueQuerySchema = z.object({
  order: z.enum(['confidence', 'time']).default('confidence'),
  recordingId: z.coerce.number().int().optional(),
  kind: z.enum(['train', 'call']).optional(),
  include: z.enum(['unreviewed', 'all']).default('unreviewed'),
  offset: z.coerce.number().int().min(0).default(0),
  limit: z.coerce.number().int().min(1).max(1000).default(200),
});
export const queueSchema = z.object({
  /** Rows that the query asks for, of which `items` are some. */
  total: count,
  progress: progressSchema,
  items: z.array(soundSchema),
});

export const dancesQuerySchema = z.object({ recordingId: z.coerce.number().int().optional() });

const request = {
  reviewer: name,
  /** Given again with a repeated request, it makes sure that the edit is done once. */
  requestId: z.string().min(8).max(80).optional(),
};
export const editRequestSchema = z.strictObject({ ...request, edit: editSchema });
export const undoRequestSchema = z.strictObject(request);

/** Rows as they now are. */
export const rowsSchema = z.object({
  sounds: z.array(windowSoundSchema),
  removedSoundIds: z.array(z.string()),
  dances: z.array(dancePartSchema),
  /** Dances without runs left. */
  removedDanceIds: z.array(z.string()),
});
export const editResultSchema = rowsSchema.extend({
  event: eventSchema,
  progress: progressSchema,
  /** How many of this reviewer's edits can be taken back and done again. */
  undoCount: count,
  redoCount: count,
});
/** Status 409: somebody was faster. Nothing was changed; these are the rows as they are. */
export const conflictSchema = rowsSchema.extend({ error: z.literal('conflict'), message: z.string() });
export const errorSchema = z.object({ error: z.string(), message: z.string() });

export const historyQuerySchema = z.object({
  limit: z.coerce.number().int().min(1).max(1000).default(100),
  reviewer: z.string().optional(),
});
export const historySchema = z.object({ events: z.array(eventSchema), undoCount: count, redoCount: count });
export const stateSchema = z.object({
  eventId: count,
  sounds: z.array(soundSchema),
  dances: z.array(danceDetailsSchema.extend({ id: z.string(), version: count })),
});

/**
 * The stream at /api/events: `edit` carries rows; `reload` says that more changed than is worth sending;
 * `recordings` that a recording was added or that one begins at another time than was known.
 */
export const streamSchema = z.discriminatedUnion('type', [
  z.object({ type: z.literal('hello'), lastEventId: count, recordingsStamp: z.string() }),
  z.object({ type: z.literal('recordings'), recordingsStamp: z.string() }),
  rowsSchema.extend({ type: z.literal('edit'), event: eventSchema, progress: progressSchema }),
  z.object({ type: z.literal('reload'), event: eventSchema, progress: progressSchema }),
]);

export const calibrationRequestSchema = z.strictObject({
  danceIds: z.array(z.string()).min(1).max(20_000),
  curve: z.string().default('auto'),
  runs: z.enum(['inner', 'all']).default('inner'),
  /** Probability of the bands. */
  level: z.number().gt(0).lt(1).default(0.95),
});
export const saveCalibrationSchema = calibrationRequestSchema.extend({ reviewer: name, name });
export const calibrationPreviewSchema = z.object({
  curve: z.string(),
  formula: z.string(),
  parameters: z.array(
    z.object({ name: z.string(), unit: z.string(), value: z.number(), standardError: z.number() }),
  ),
  points: z.array(
    z.object({
      danceId: z.string(),
      beeId: text,
      feederId: text,
      distanceM: z.number(),
      meanDurationS: z.number(),
      usedRuns: count,
      residualS: z.number(),
    }),
  ),
  /** Curve from 0 m to 1.2 times the farthest feeder: confidence band of the mean, prediction band of a dance. */
  line: z.array(
    z.object({
      distanceM: z.number(),
      durationS: z.number(),
      confidenceLowS: number,
      confidenceHighS: number,
      predictionLowS: number,
      predictionHighS: number,
    }),
  ),
  level: z.number(),
  warnings: z.array(z.string()),
  /** Dances asked for that cannot serve, and why. */
  leftOut: z.array(z.object({ danceId: z.string(), reason: z.string() })),
});
export const calibrationDetailSchema = calibrationSummarySchema.extend({ record: z.unknown() });

export const estimateQuerySchema = z.object({
  /** Name of a saved calibration; the newest when left out. */
  calibration: z.string().optional(),
  level: z.coerce.number().gt(0).lt(1).default(0.95),
});
export const danceEstimateSchema = z.object({ calibration: z.string(), estimate: estimateSchema });

export const mapQuerySchema = z.object({
  /** Only dances of this day, by the recording's clock. */
  day: z.iso.date().optional(),
  bee: z.string().max(200).optional(),
  treatment: z.string().max(200).optional(),
  /** What is counted: every dance as one, or as many as it has used runs. */
  weight: z.enum(['dances', 'runs']).default('dances'),
});
const spot = { eastM: z.number(), northM: z.number() };
/** Metres east and north of the hive, true in distance and bearing from it. */
export const mapSchema = z.object({
  hive: z.object({ latitude: z.number(), longitude: z.number() }).nullable(),
  /** Why there is no map; null where there is one. */
  why: text,
  weight: z.enum(['dances', 'runs']),
  total: z.number(),
  /** Name of the calibration that distances rest on. */
  calibration: text,
  /** Smallest regions that hold 50, 80 and 95 %: polygons of rings, the first outer, the others holes. */
  regions: z.array(
    z.object({
      level: z.number(),
      areaHa: z.number(),
      polygons: z.array(z.array(z.array(z.tuple([z.number(), z.number()])))),
    }),
  ),
  feeders: z.array(z.object({ feederId: z.string(), distanceM: z.number(), ...spot })),
  dances: z.array(
    z.object({
      danceId: z.string(),
      beeId: text,
      treatment: text,
      startTime: text,
      distanceM: z.number(),
      distanceLowM: number,
      distanceHighM: number,
      bearingDeg: z.number(),
      area95Ha: number,
      note: text,
      ...spot,
    }),
  ),
  /** Dances without a feeder that could not be mapped, and why. */
  leftOut: z.array(z.object({ danceId: z.string(), reason: z.string() })),
  /** What there is to choose from. */
  choices: z.object({
    days: z.array(z.string()),
    beeIds: z.array(z.string()),
    treatments: z.array(z.string()),
  }),
});

export type Run = z.infer<typeof runSchema>;
export type DanceInHand = z.infer<typeof danceInHandSchema>;
export type RecordingSummary = z.infer<typeof recordingSchema>;
export type Study = z.infer<typeof studySchema>;
export type Ribbon = z.infer<typeof ribbonSchema>;
export type WindowRows = z.infer<typeof windowSchema>;
export type Queue = z.infer<typeof queueSchema>;
export type QueueQuery = z.infer<typeof queueQuerySchema>;
export type EditRequest = z.input<typeof editRequestSchema>;
export type EditResult = z.infer<typeof editResultSchema>;
export type Conflict = z.infer<typeof conflictSchema>;
export type Rows = z.infer<typeof rowsSchema>;
export type StreamMessage = z.infer<typeof streamSchema>;
export type CalibrationRequest = z.infer<typeof calibrationRequestSchema>;
export type CalibrationPreview = z.infer<typeof calibrationPreviewSchema>;
export type CalibrationSummary = z.infer<typeof calibrationSummarySchema>;
export type MapQuery = z.infer<typeof mapQuerySchema>;
export type StudyMapView = z.infer<typeof mapSchema>;
export type DanceEstimate = z.infer<typeof danceEstimateSchema>;
