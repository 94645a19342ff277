import type { DanceDetails, Sound } from '../study-schemas.ts';

/** A sound as events record it: the version is the event's id and so no part of it. */
export interface SoundState extends Omit<Sound, 'id' | 'version'> {
  /** Ids of detected sounds, of detection `detectionId`, whose pulses it has. */
  readonly sources: readonly string[];
}

/** A dance as events record it. */
export interface DanceState extends DanceDetails {
  readonly recordingId: number;
  readonly channel: number;
  /** Whether the feeder is the reviewer's word. */
  readonly feederSet: boolean;
}

export interface StoredSound extends SoundState {
  readonly id: string;
  readonly version: number;
}

export interface StoredDance extends DanceState {
  readonly id: string;
  readonly version: number;
}

/** Rows by id; null where there is none. */
export interface RowStates {
  readonly sounds: Readonly<Record<string, SoundState | null>>;
  readonly dances: Readonly<Record<string, DanceState | null>>;
}

/** What an event does: the rows it touches, before and after. */
export interface Change {
  readonly before: RowStates;
  readonly after: RowStates;
}

export const emptyDance = {
  beeId: null,
  paintMark: null,
  feederId: null,
  feederSet: false,
  treatment: null,
  combAngleDeg: null,
  note: null,
} as const;

type SqlRow = Readonly<Record<string, unknown>>;

/** Columns of the table of sounds in the order in which `soundOfRaw` takes them. */
export const soundColumns = `sounds.sound_id, sounds.version, sounds.recording_id, sounds.channel, sounds.kind,
  sounds.start_s, sounds.end_s, sounds.dance_id, sounds.pulse_count, sounds.pulse_rate_hz, sounds.carrier_hz,
  sounds.snr_db, sounds.confidence, sounds.status, sounds.edited, sounds.detection_id, sounds.sources`;

/** A sound of the values of `soundColumns`: rows as arrays are read in half the time, where there are many. */
export function soundOfRaw(row: readonly unknown[]): StoredSound {
  return {
    id: row[0] as string,
    version: row[1] as number,
    recordingId: row[2] as number,
    channel: row[3] as number,
    kind: row[4] as Sound['kind'],
    startS: row[5] as number,
    endS: row[6] as number,
    danceId: row[7] as string | null,
    pulseCount: row[8] as number | null,
    pulseRateHz: row[9] as number | null,
    carrierHz: row[10] as number | null,
    snrDb: row[11] as number | null,
    confidence: row[12] as number | null,
    status: row[13] as Sound['status'],
    edited: row[14] === 1,
    detectionId: row[15] as number | null,
    sources: JSON.parse(row[16] as string) as string[],
  };
}

/** A row of the table of sounds. */
export function soundOfSql(row: SqlRow): StoredSound {
  return {
    id: row.sound_id as string,
    version: row.version as number,
    recordingId: row.recording_id as number,
    channel: row.channel as number,
    kind: row.kind as Sound['kind'],
    startS: row.start_s as number,
    endS: row.end_s as number,
    danceId: row.dance_id as string | null,
    pulseCount: row.pulse_count as number | null,
    pulseRateHz: row.pulse_rate_hz as number | null,
    carrierHz: row.carrier_hz as number | null,
    snrDb: row.snr_db as number | null,
    confidence: row.confidence as number | null,
    status: row.status as Sound['status'],
    edited: row.edited === 1,
    detectionId: row.detection_id as number | null,
    sources: JSON.parse(row.sources as string) as string[],
  };
}

/** A row of the table of dances. */
export function danceOfSql(row: SqlRow): StoredDance {
  return {
    id: row.dance_id as string,
    version: row.version as number,
    recordingId: row.recording_id as number,
    channel: row.channel as number,
    beeId: row.bee_id as string | null,
    paintMark: row.paint_mark as string | null,
    feederId: row.feeder_id as string | null,
    feederSet: row.feeder_set === 1,
    treatment: row.treatment as string | null,
    combAngleDeg: row.comb_angle_deg as number | null,
    note: row.note as string | null,
  };
}

/** A stored row as events record it, its members in one order, so that equal states are equal as JSON. */
export function soundState({ id: _, version: __, ...state }: StoredSound): SoundState {
  return state;
}

/** What of a dance an event keeps: all but what names it. */
export function danceState({ id: _, version: __, ...state }: StoredDance): DanceState {
  return state;
}

/** The sound as the page gets it. */
export function publicSound({ sources: _, ...sound }: StoredSound): Sound {
  return sound;
}
