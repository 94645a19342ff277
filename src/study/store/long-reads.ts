import type { CalibrationRecord } from '../calibration-record.ts';
import type { ReviewEvent } from '../study-schemas.ts';
import { eventColumns, eventOfSql } from './events.ts';
import type { DetectedRow, StoreHistory } from './history.ts';
import type { Store } from './open-store.ts';
import { unpackTimes } from './pulses.ts';
import { type Change, type StoredSound, soundColumns, soundOfRaw } from './rows.ts';

/** Tables of a store that are too long to be held, row by row. While one is read, nothing may be written. */

/** Who wrote a row last, and when; null where the detector or an import did. */
export interface Signature {
  readonly reviewer: string | null;
  readonly reviewedAt: string | null;
}

/** A sound with who wrote it last. */
export interface SignedSound extends Signature {
  readonly sound: StoredSound;
}

/** Who wrote the row of an alias last, by its version, as two columns and a join. */
const signature = {
  columns: 'events.reviewer AS reviewer, events.at AS reviewedAt',
  join: (of: string) =>
    `LEFT JOIN events ON event_id = ${of}.version AND events.kind NOT IN ('detect', 'import')`,
};

/** Trains, calls or both of a recording, rejected ones too, in order of start. */
export function* soundsOfRecording(
  store: Store,
  recordingId: number,
  which: 'trains' | 'calls' | 'all',
): Generator<SignedSound> {
  const kind = { trains: "AND sounds.kind = 'train'", calls: "AND sounds.kind <> 'train'", all: '' }[which];
  const rows = store
    .prepare(
      `SELECT ${soundColumns}, ${signature.columns} FROM sounds ${signature.join('sounds')}
       WHERE sounds.recording_id = ? ${kind} ORDER BY start_s, sound_id`,
    )
    .raw()
    .iterate(recordingId) as IterableIterator<unknown[]>;
  for (const row of rows) {
    const [reviewer, reviewedAt] = row.slice(-2) as (string | null)[];
    yield { sound: soundOfRaw(row), reviewer: reviewer!, reviewedAt: reviewedAt! };
  }
}

/** Who wrote each dance last, where a reviewer did. */
export function danceReviewers(store: Store): Map<string, Signature> {
  const rows = store
    .prepare(`SELECT dance_id AS id, ${signature.columns} FROM dances ${signature.join('dances')}
      WHERE events.reviewer IS NOT NULL`)
    .all() as ({ id: string } & Signature)[];
  return new Map(rows.map(({ id, ...by }) => [id, by]));
}

/** Where each sound of a kind begins that is not rejected. */
export function placedSounds(
  store: Store,
  kind: string,
): { recordingId: number; channel: number; startS: number }[] {
  return store
    .prepare(
      `SELECT recording_id AS recordingId, channel, start_s AS startS FROM sounds
       WHERE kind = ? AND status <> 'rejected'`,
    )
    .all(kind) as { recordingId: number; channel: number; startS: number }[];
}

/** Sounds as the detections found them, by detection and id, with the number of their pulses. */
export function detectedSounds(
  store: Store,
): IterableIterator<Omit<DetectedRow, 'pulseTimesS'> & { readonly pulseCount: number | null }> {
  return store
    .prepare(
      `SELECT detection_id AS detectionId, sound_id AS soundId, kind, channel, start_s AS startS, end_s AS endS,
         carrier_hz AS carrierHz, snr_db AS snrDb, confidence, length(pulse_times) / 8 AS pulseCount
       FROM detected_sounds ORDER BY detection_id, sound_id`,
    )
    .iterate() as ReturnType<typeof detectedSounds>;
}

/** Middles of the pulses of those that have any, s, by detection and id. */
export function* detectedPulses(store: Store): Generator<{
  readonly detectionId: number;
  readonly soundId: string;
  readonly timesS: readonly number[];
}> {
  const rows = store
    .prepare(
      `SELECT detection_id, sound_id, pulse_times FROM detected_sounds WHERE pulse_times IS NOT NULL
       ORDER BY detection_id, sound_id`,
    )
    .raw()
    .iterate() as IterableIterator<[number, string, Buffer]>;
  for (const [detectionId, soundId, times] of rows)
    yield { detectionId, soundId, timesS: unpackTimes(times) };
}

/** Every event with what it did, oldest first. */
export function* eventsWithChanges(store: Store): Generator<ReviewEvent & { readonly change: Change }> {
  const rows = store
    .prepare(`SELECT ${eventColumns}, before, after FROM events ORDER BY event_id`)
    .iterate() as IterableIterator<never>;
  for (const row of rows) {
    const { before, after, ...event } = row as { before: string; after: string };
    yield {
      ...eventOfSql(event as never),
      change: { before: JSON.parse(before), after: JSON.parse(after) } as Change,
    };
  }
}

/** When each recording was added. */
export function addingTimes(store: Store): Map<number, string> {
  const rows = store.prepare('SELECT recording_id, added_at FROM recordings').raw().all();
  return new Map(rows as [number, string][]);
}

/** Every calibration ever saved, oldest first. */
export function calibrationsEverSaved(store: Store): StoreHistory['calibrations'] {
  const rows = store
    .prepare(
      'SELECT calibration_id AS id, name, at, reviewer, dance_ids, record FROM calibrations ORDER BY calibration_id',
    )
    .all() as (Omit<StoreHistory['calibrations'][number], 'danceIds' | 'record'> &
    Readonly<Record<'dance_ids' | 'record', string>>)[];
  return rows.map(({ dance_ids, record, ...saved }) => ({
    ...saved,
    danceIds: JSON.parse(dance_ids) as string[],
    record: JSON.parse(record) as CalibrationRecord,
  }));
}
