import { createHash } from 'node:crypto';
import { prepared, type Store } from './open-store.ts';

/** A recording of the study. Its path is relative to the study folder, with forward slashes. */
export interface StoredRecording {
  readonly id: number;
  readonly sha256: string;
  readonly path: string;
  readonly stem: string;
  readonly byteCount: number;
  readonly modifiedMs: number;
  readonly sampleRateHz: number;
  readonly channelCount: number;
  readonly durationS: number;
  readonly startTime: string | null;
  readonly warnings: readonly string[];
}

const columns = `recording_id AS id, sha256, path, stem, byte_count AS byteCount, modified_ms AS modifiedMs,
  sample_rate_hz AS sampleRateHz, channel_count AS channelCount, duration_s AS durationS,
  start_time AS startTime, warnings`;

function recordingOfSql(row: unknown): StoredRecording {
  const { warnings, ...rest } = row as StoredRecording & { warnings: string };
  return { ...rest, warnings: JSON.parse(warnings as unknown as string) as string[] };
}

/** Every recording of a study, in the order in which they were added. */
export function allRecordings(store: Store): StoredRecording[] {
  return store.prepare(`SELECT ${columns} FROM recordings ORDER BY recording_id`).all().map(recordingOfSql);
}

/** Another whenever a recording has been added, begins at another time or lies elsewhere: none of these is an event. */
export function recordingsStamp(store: Store): string {
  const query = 'SELECT recording_id, start_time, path FROM recordings ORDER BY recording_id';
  const rows = prepared(store, query).raw().all();
  return createHash('sha256').update(JSON.stringify(rows)).digest('base64url');
}

/** Start of a recording as its file, name or `study add --start` last told it, or null. */
export function startTimeOf(store: Store, id: number): string | null {
  const query = 'SELECT start_time FROM recordings WHERE recording_id = ?';
  return (prepared(store, query).pluck().get(id) as string | null | undefined) ?? null;
}

/** A recording, or null where there is none of that number. */
export function recordingById(store: Store, id: number): StoredRecording | null {
  const row = store.prepare(`SELECT ${columns} FROM recordings WHERE recording_id = ?`).get(id);
  return row === undefined ? null : recordingOfSql(row);
}

/** The recording of these bytes, whatever its name, or null. */
export function recordingByHash(store: Store, sha256: string): StoredRecording | null {
  const row = store.prepare(`SELECT ${columns} FROM recordings WHERE sha256 = ?`).get(sha256);
  return row === undefined ? null : recordingOfSql(row);
}

/** Adds a recording; a stem that another has gets a number after it. @returns the recording as stored */
export function insertRecording(store: Store, given: Omit<StoredRecording, 'id'>): StoredRecording {
  const insert = store.transaction(() => {
    const taken = store.prepare('SELECT 1 FROM recordings WHERE stem = ?');
    let stem = given.stem;
    for (let number = 2; taken.get(stem) !== undefined; number++) stem = `${given.stem}-${number}`;
    const id = insertRecordingRow(store, { ...given, stem, addedAt: new Date().toISOString() });
    return recordingById(store, id)!;
  });
  return insert.immediate();
}

/** Writes a recording as it is given. @returns its number, that given or the next */
export function insertRecordingRow(
  store: Store,
  given: Omit<StoredRecording, 'id'> & { readonly id?: number; readonly addedAt: string },
): number {
  const { lastInsertRowid } = store
    .prepare(
      `INSERT INTO recordings (recording_id, sha256, path, stem, byte_count, modified_ms, sample_rate_hz,
         channel_count, duration_s, start_time, warnings, added_at)
       VALUES (@id, @sha256, @path, @stem, @byteCount, @modifiedMs, @sampleRateHz, @channelCount, @durationS,
         @startTime, @warnings, @addedAt)`,
    )
    .run({ ...given, id: given.id ?? null, warnings: JSON.stringify(given.warnings) });
  return Number(lastInsertRowid);
}

/** Notes where a recording's file now is. */
export function moveRecording(store: Store, id: number, path: string, modifiedMs: number): void {
  store
    .prepare('UPDATE recordings SET path = ?, modified_ms = ? WHERE recording_id = ?')
    .run(path, modifiedMs, id);
}

/** Notes when a recording starts, and what is to be said of it. */
export function startRecording(
  store: Store,
  id: number,
  { startTime, warnings }: Pick<StoredRecording, 'startTime' | 'warnings'>,
): void {
  store
    .prepare('UPDATE recordings SET start_time = ?, warnings = ? WHERE recording_id = ?')
    .run(startTime, JSON.stringify(warnings), id);
}
