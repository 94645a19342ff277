import { z } from 'zod';
import { InputError } from '../input-error.ts';
import type { RecordingDetection } from './detect-recording.ts';
import { callSchema, danceSchema, trainSchema } from './tables.ts';
import { combtoneVersion } from './version.ts';

const number = z.number();
const lines = z.array(z.string()).readonly();

const infoSchema = z.strictObject({
  path: z.string(),
  format: z.string(),
  sampleRateHz: number,
  channelCount: number,
  frameCount: number,
  durationS: number,
  encoding: z.string(),
  startTime: z.string().nullable(),
  startTimeSource: z.string().nullable(),
  warnings: lines,
});

const channelSchema = z.strictObject({
  channel: number,
  usableMinutes: number,
  clippedShare: number,
  dropOutCount: number,
  dropOutS: number,
  noiseDb: number,
  medianSnrDb: number.nullable(),
  carrierHz: number.nullable(),
});

const recordSchema = z.strictObject({
  format: z.literal('combtone found'),
  formatVersion: z.literal(1),
  combtoneVersion: z.string(),
  /** Of the recording's bytes. */
  sha256: z.string(),
  settingsHash: z.string(),
  found: z.strictObject({
    trains: z.array(trainSchema.strict()),
    calls: z.array(callSchema.strict()),
    dances: z.array(danceSchema.strict()),
    info: infoSchema,
    pulseTimesS: z.array(z.tuple([z.string(), z.array(number)])),
    channels: z.array(channelSchema),
    warnings: lines,
  }),
});

/** What a record is of: which bytes were searched, and with which settings. */
export interface FoundKey {
  readonly sha256: string;
  readonly settingsHash: string;
}

/** What was found in a recording, as text that travels between machines and tells what it is of. */
export function foundText({ sha256, settingsHash }: FoundKey, found: RecordingDetection): string {
  const record = {
    format: 'combtone found',
    formatVersion: 1,
    combtoneVersion,
    sha256,
    settingsHash,
    found: { ...found, pulseTimesS: [...found.pulseTimesS] },
  };
  return `${JSON.stringify(record)}\n`;
}

/**
 * Reads what `foundText` wrote.
 *
 * @param file what an error names
 * @throws InputError for text that is no such record, is of another recording or other settings, or was made by
 * another version, which may find other things
 */
export function readFoundText(file: string, text: string, wanted: FoundKey): RecordingDetection {
  const refuse = (found: string, asked: string) => new InputError({ file, found, wanted: asked });
  let parsed: unknown;
  try {
    parsed = JSON.parse(text);
  } catch {
    throw refuse('no JSON, or a part of it', 'findings as combtone writes them');
  }
  const { combtoneVersion: version } = (parsed ?? {}) as { combtoneVersion?: unknown };
  if (typeof version === 'string' && version !== combtoneVersion) {
    throw refuse(`findings of combtone ${version}`, `those of ${combtoneVersion}: detect once more with it`);
  }
  const result = recordSchema.safeParse(parsed);
  if (!result.success) {
    const { path, message } = result.error.issues[0]!;
    throw refuse(`${path.join('.')}: ${message}`, 'findings as combtone writes them');
  }
  const { sha256, settingsHash, found } = result.data;
  if (sha256 !== wanted.sha256) throw refuse('findings of another recording', `those of ${wanted.sha256}`);
  if (settingsHash !== wanted.settingsHash) {
    throw refuse('findings with other settings', `those of settings ${wanted.settingsHash}`);
  }
  const misplaced = firstMisplaced(found);
  if (misplaced !== null)
    throw refuse(misplaced, 'sounds that lie in their recording, each with an end after its start');
  return { ...found, pulseTimesS: new Map(found.pulseTimesS) } as RecordingDetection;
}

/** Times are rounded, and of some compressed sound the length is known but nearly. */
const MARGIN_S = 1;

/** A sound that cannot be in the recording, in words; null where there is none. */
function firstMisplaced(found: z.infer<typeof recordSchema>['found']): string | null {
  const { durationS, channelCount } = found.info;
  for (const table of ['trains', 'calls'] as const) {
    for (const [k, { start_s, end_s, channel }] of found[table].entries()) {
      const inside = start_s >= -MARGIN_S && end_s <= durationS + MARGIN_S && channel <= channelCount;
      if (!inside || end_s <= start_s) return `${table}.${k}: ${start_s} to ${end_s} s on channel ${channel}`;
    }
  }
  return null;
}
