import { z } from 'zod';
import { InputError } from '../input-error.ts';

const db = z.number().min(-200).max(200);
const perHour = z.number().min(0).max(100_000);
const share = z.number().min(0).max(1);

const backgroundSchema = z.discriminatedUnion('kind', [
  /** Made noise and wing hum. `levelDb`: its RMS level in dB of full scale; null draws one from −45 to −25. */
  z.strictObject({ kind: z.literal('synthetic'), levelDb: z.number().max(0).nullable().default(null) }),
  /** Recordings laid end to end in random order, each at its own level. First channel of each. */
  z.strictObject({ kind: z.literal('files'), files: z.array(z.string()).min(1).readonly() }),
]);

const curveSchema = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('line'),
    interceptS: z.number().min(0).default(0.25),
    /** s/m, or 'colony' to draw one from the range found between colonies. */
    slopeSPerM: z.union([z.number().min(0), z.literal('colony')]).default(0.001),
  }),
  z.strictObject({
    kind: z.literal('saturating'),
    interceptS: z.number().min(0).default(0.25),
    riseS: z.number().positive().default(4),
    scaleM: z.number().positive().default(3000),
  }),
]);

/** What a bee's dance sound is like. Made by `planBees`; may be handed in so that recordings share their bees. */
const beeSchema = z.strictObject({
  beeId: z.string(),
  carrierHz: z.number().positive(),
  pulseRateHz: z.number().positive(),
  /** Onset to offset, s. */
  pulseLengthS: z.number().positive(),
  pulseShape: z.enum(['cosine', 'flat', 'decaying']),
  /** Share of the pulse taken by its rise and by its fall. */
  riseShare: z.number().positive(),
  fallShare: z.number().positive(),
  /** Whether the carrier runs on through the gaps; otherwise each pulse begins at a phase of its own. */
  continuousPhase: z.boolean(),
  secondHarmonicDb: z.number(),
  secondHarmonicPhase: z.number(),
  /** Frequency change within a pulse, Hz per s. */
  glideHzPerS: z.number(),
  /** SD of pulse periods, as a share of the period. */
  periodJitter: z.number(),
  /** Share of inner pulses that are left out. */
  dropoutShare: z.number(),
  /** Every other pulse is weaker by this. */
  alternationDb: z.number(),
  /** SD of the change in level from a run's first pulse to its last, dB. */
  levelTrendSdDb: z.number(),
  /** Runs of this bee last this much longer than the colony's, s. */
  durationOffsetS: z.number(),
  returnFactor: z.number().positive(),
});

const microphoneSchema = z.strictObject({
  gainDb: db.default(0),
  /** Everything reaches this microphone later by this, s. */
  delayS: z.number().min(0).max(0.1).default(0),
  /** Noise of its own in 200 to 400 Hz, dB from the background's; null for none. */
  noiseDb: db.nullable().default(null),
});

const feederSchema = z.strictObject({
  feederId: z.string().min(1),
  distanceM: z.number().min(0).max(20_000),
});

const treatmentSchema = z.strictObject({
  treatment: z.string().min(1),
  /** Share of dances so treated; what the shares leave over is untreated (empty treatment). */
  share,
  durationFactor: z.number().positive().default(1),
  durationOffsetS: z.number().default(0),
  returnFactor: z.number().positive().default(1),
});

/** Levels are dB from the median of the background's power in 200 to 400 Hz. */
export const disturbanceSchema = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('gain'), factor: z.number().positive().default(0.1) }),
  z.strictObject({ kind: z.literal('dc-offset'), offset: z.number().min(-1).max(1).default(0.05) }),
  z.strictObject({ kind: z.literal('inverted') }),
  z.strictObject({
    kind: z.literal('mains'),
    frequencyHz: z.union([z.literal(50), z.literal(60)]).default(50),
    levelDb: db.default(10),
  }),
  /** From half-way on, everything is taken times the factor. */
  z.strictObject({ kind: z.literal('gain-step'), factor: z.number().positive().default(0.25) }),
  z.strictObject({ kind: z.literal('speech'), levelDb: db.default(10) }),
  z.strictObject({ kind: z.literal('wind'), levelDb: db.default(25) }),
  z.strictObject({ kind: z.literal('fan'), levelDb: db.default(3) }),
  /** Input gain turned up until this share of samples lies beyond full scale. */
  z.strictObject({ kind: z.literal('clipping'), share: z.number().positive().max(0.5).default(0.01) }),
  z.strictObject({
    kind: z.literal('dropouts'),
    perMinute: z.number().positive().max(600).default(4),
    shortestS: z.number().positive().default(0.01),
    longestS: z.number().positive().default(0.3),
  }),
]);

const callsSchema = z.strictObject({
  /** Multiplies every rate and chance below; 0 for a hive without other sounds. */
  scale: z.number().min(0).max(100).default(1),
  /** Chance of a begging call during a run, just against a run's end, and in a return phase. */
  beggingDuringRun: share.default(0.06),
  beggingAtRunEnd: share.default(0.08),
  beggingInReturn: share.default(0.12),
  beggingOutsidePerHour: perHour.default(60),
  pipingPerHour: perHour.default(12),
  tootingPerHour: perHour.default(4),
  quackingPerHour: perHour.default(4),
  knocksPerHour: perHour.default(120),
  buzzesPerHour: perHour.default(90),
  hissesPerHour: perHour.default(15),
});

/** Everything that shapes a simulated recording. Every member has a default. */
export const simulationSchema = z.strictObject({
  seed: z.number().int().default(1),
  lengthS: z
    .number()
    .positive()
    .max(7 * 86_400)
    .default(600),
  sampleRateHz: z.number().int().min(8000).max(192_000).default(8000),
  encoding: z.enum(['pcm16', 'float32']).default('pcm16'),
  /** ISO 8601, best with offset; null for a recording that does not know when it was made. */
  startTime: z.iso.datetime({ offset: true, local: true }).nullable().default(null),
  /** One channel each. */
  microphones: z.array(microphoneSchema).min(1).max(16).readonly().prefault([{}]),
  background: backgroundSchema.prefault({ kind: 'synthetic' }),
  crossFadeS: z.number().min(0.01).max(10).default(0.5),

  /**
   * SNR of trains: mean power of a pulse while it sounds over the background's power in 200 to 400 Hz within
   * 2 s of the train's middle, dB; mean over the pulses of a train.
   */
  snrDb: db.default(6),
  /** SD between dances, and between runs of a dance (about the dance's own level), dB. */
  snrDanceSdDb: z.number().min(0).max(30).default(0),
  snrRunSdDb: z.number().min(0).max(30).default(1),
  /** SD between pulses of a train, dB; the train's mean power is kept. */
  snrPulseSdDb: z.number().min(0).max(30).default(1.5),
  /** The same for calls; null takes that of trains. */
  callSnrDb: db.nullable().default(null),
  callSnrSdDb: z.number().min(0).max(30).default(2),

  dancesPerHour: perHour.default(60),
  /** How many bees at most dance at once, and how far apart their carriers then are. */
  maxConcurrent: z.number().int().min(1).max(20).default(1),
  minCarrierGapHz: z.number().min(0).max(60).default(15),
  /** How many dancers there are; or the dancers themselves. */
  bees: z.union([z.number().int().min(1).max(1000), z.array(beeSchema).min(1).readonly()]).default(12),
  medianCircuits: z.number().min(3).max(40).default(11),

  feeders: z
    .array(feederSchema)
    .min(1)
    .readonly()
    .default(
      [100, 200, 350, 500, 750, 1000, 1500].map((distanceM) => ({
        feederId: `feeder-${distanceM}m`,
        distanceM,
      })),
    ),
  /** 'mixed': any feeder at any time. 'stepwise': each open for an equal part of the recording, in order. */
  feederOrder: z.enum(['mixed', 'stepwise']).default('mixed'),
  /** Share of dances to places that are no feeder, uniform over this range. */
  unknownShare: share.default(0),
  unknownRangeM: z.tuple([z.number().min(0), z.number().min(0)]).default([100, 2000]),
  treatments: z.array(treatmentSchema).readonly().default([]),

  curve: curveSchema.prefault({ kind: 'line' }),
  beeSdS: z.number().min(0).default(0.05),
  danceSdS: z.number().min(0).default(0.04),
  /** Times the published scatter of single durations: 0.14 s, growing by 0.025 s per 100 m. */
  runScatterScale: z.number().min(0).default(1),
  /** Shape of the gamma the scatter comes from; its skewness is 2/√shape. */
  runScatterShape: z.number().positive().default(4),
  /** The first and the last run of a dance scatter more by this factor. */
  edgeRunScatterFactor: z.number().min(0).default(1.25),
  shortestRunS: z.number().min(0).default(0.25),

  calls: callsSchema.prefault({}),
  disturbances: z.array(disturbanceSchema).readonly().default([]),
});

/** All options, settled. */
export type SimulationOptions = z.output<typeof simulationSchema>;
/** Options as a caller gives them: every member may be left out. */
export type PartialSimulationOptions = z.input<typeof simulationSchema>;
export type CurveOptions = SimulationOptions['curve'];
export type Bee = z.output<typeof beeSchema>;
export type Feeder = z.output<typeof feederSchema>;
export type Treatment = z.output<typeof treatmentSchema>;
export type Microphone = z.output<typeof microphoneSchema>;
export type Disturbance = z.output<typeof disturbanceSchema>;
export type BackgroundOptions = SimulationOptions['background'];

/**
 * Checks options and fills in what was left out.
 *
 * @throws InputError naming the option, what was found and what is wanted
 */
export function completeOptions(given: PartialSimulationOptions = {}): SimulationOptions {
  const result = simulationSchema.safeParse(given);
  if (!result.success) {
    const issue = result.error.issues[0]!;
    throw new InputError({
      file: 'simulation options',
      place: issue.path.join('.') || 'top level',
      found: JSON.stringify(valueAt(given, issue.path)) ?? 'nothing',
      wanted: issue.message,
    });
  }
  const shares = result.data.treatments.reduce((sum, treatment) => sum + treatment.share, 0);
  if (shares > 1 + 1e-9) {
    throw new InputError({
      file: 'simulation options',
      place: 'treatments',
      found: `shares that sum to ${shares}`,
      wanted: 'shares that sum to 1 at most',
    });
  }
  return result.data;
}

function valueAt(value: unknown, path: readonly PropertyKey[]): unknown {
  return path.reduce<unknown>(
    (inner, key) => (inner as Record<PropertyKey, unknown> | undefined)?.[key],
    value,
  );
}
