import type { Progress } from '../study-schemas.ts';
import { prepared, type Store } from './open-store.ts';
import { danceOfSql, type StoredDance, type StoredSound, soundOfSql } from './rows.ts';

const sounds = (rows: unknown[]): StoredSound[] => (rows as never[]).map(soundOfSql);

/** A sound counts as reviewed once it is judged, moved, added or given a dance. */
const REVIEWED = "(status <> 'found' OR edited = 1)";

/** Sounds of a channel that touch [fromS, toS), in order of start. */
export function soundsWithin(
  store: Store,
  recordingId: number,
  channel: number,
  fromS: number,
  toS: number,
): StoredSound[] {
  return sounds(
    store
      .prepare(
        `SELECT * FROM sounds WHERE recording_id = ? AND channel = ? AND start_s < ? AND end_s > ?
         ORDER BY start_s, sound_id`,
      )
      .all(recordingId, channel, toS, fromS),
  );
}

/** Trains of a dance, rejected ones too, in order of start. */
export function runsOfDance(store: Store, danceId: string): StoredSound[] {
  const query = "SELECT * FROM sounds WHERE dance_id = ? AND kind = 'train' ORDER BY start_s, sound_id";
  return sounds(prepared(store, query).all(danceId));
}

/**
 * All dances of a recording, or of all, each with a stamp that is another whenever the dance or any of its trains
 * has been written, come or gone: every event writes a version higher than all before it.
 */
export function stampedDances(store: Store, recordingId?: number): { dance: StoredDance; stamp: string }[] {
  const where = recordingId === undefined ? '' : 'WHERE dances.recording_id = @recordingId';
  const rows = store
    .prepare(
      `SELECT dances.*, count(sound_id) AS trains, max(sounds.version) AS newest
       FROM dances LEFT JOIN sounds ON sounds.dance_id = dances.dance_id AND kind = 'train'
       ${where} GROUP BY dances.dance_id ORDER BY dances.dance_id`,
    )
    .all(recordingId === undefined ? {} : { recordingId }) as { trains: number; newest: number | null }[];
  return rows.map((row) => {
    const dance = danceOfSql(row as never);
    return { dance, stamp: `${dance.version}/${row.trains}/${row.newest}` };
  });
}

export interface QueueAsked {
  readonly order: 'confidence' | 'time';
  readonly recordingId?: number | undefined;
  readonly kind?: 'train' | 'call' | undefined;
  readonly include: 'unreviewed' | 'all';
  readonly offset: number;
  readonly limit: number;
}

/** Sounds to be looked at: those whose confidence is nearest to an even chance first, or by time. */
export function queuedSounds(store: Store, asked: QueueAsked): { total: number; items: StoredSound[] } {
  const where = [
    ...(asked.recordingId === undefined ? [] : ['recording_id = @recordingId']),
    ...(asked.kind === undefined ? [] : [asked.kind === 'train' ? "kind = 'train'" : "kind <> 'train'"]),
    ...(asked.include === 'unreviewed' ? [`NOT ${REVIEWED}`] : []),
  ].join(' AND ');
  const rule = where === '' ? '' : `WHERE ${where}`;
  const order =
    asked.order === 'confidence'
      ? 'abs(coalesce(confidence, 0.5) - 0.5), recording_id, start_s, sound_id'
      : 'recording_id, start_s, sound_id';
  const place = asked.recordingId === undefined ? {} : { recordingId: asked.recordingId };
  const total = store.prepare(`SELECT count(*) FROM sounds ${rule}`).pluck().get(place) as number;
  const items = store
    .prepare(`SELECT * FROM sounds ${rule} ORDER BY ${order} LIMIT @limit OFFSET @offset`)
    .all({ ...place, limit: asked.limit, offset: asked.offset });
  return { total, items: sounds(items) };
}

/** How much there is and how much of it is reviewed; dances that have a train left. Asked after every edit. */
export function progressOf(store: Store, recordingId?: number): Progress {
  const given = recordingId === undefined ? [] : [recordingId, recordingId, recordingId];
  const and = recordingId === undefined ? '' : 'AND recording_id = ?';
  const row = store
    .prepare(
      `SELECT (SELECT count(*) FROM sounds WHERE true ${and}) AS sounds,
         (SELECT count(*) FROM sounds WHERE ${REVIEWED} ${and}) AS reviewed,
         (SELECT count(*) FROM dances WHERE EXISTS (SELECT 1 FROM sounds WHERE dance_id = dances.dance_id
            AND kind = 'train' AND status <> 'rejected') ${and}) AS dances`,
    )
    .get(...given);
  return row as Progress;
}

/** What each minute holds. */
export interface MinuteCounts {
  readonly minute: number;
  readonly runS: number;
  readonly runs: number;
  readonly calls: number;
  readonly sounds: number;
  readonly reviewed: number;
}

export function countsByBin(
  store: Store,
  recordingId: number,
  channel: number,
  binS: number,
): MinuteCounts[] {
  return store
    .prepare(
      `SELECT CAST(start_s / @binS AS INTEGER) AS minute,
         sum(CASE WHEN kind = 'train' AND status <> 'rejected' THEN end_s - start_s ELSE 0 END) AS runS,
         sum(kind = 'train' AND status <> 'rejected') AS runs,
         sum(kind <> 'train' AND status <> 'rejected') AS calls,
         count(*) AS sounds, sum(${REVIEWED}) AS reviewed
       FROM sounds WHERE recording_id = @recordingId AND channel = @channel GROUP BY minute ORDER BY minute`,
    )
    .all({ recordingId, channel, binS }) as MinuteCounts[];
}

/** Values of a dance's detail that are in use, for completion. */
export function knownValues(store: Store, column: 'bee_id' | 'paint_mark' | 'treatment'): string[] {
  return store
    .prepare(`SELECT DISTINCT ${column} FROM dances WHERE ${column} IS NOT NULL ORDER BY 1 LIMIT 1000`)
    .pluck()
    .all() as string[];
}
