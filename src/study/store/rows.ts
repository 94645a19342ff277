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
