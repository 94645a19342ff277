import type { Progress } from '../study-schemas.ts';
import type { Store } from './open-store.ts';
import { danceOfSql, type StoredDance, type StoredSound, soundOfSql } from './rows.ts';

const sounds = (rows: unknown[]): StoredSound[] => (rows as never[]).map(soundOfSql);
const dances = (rows: unknown[]): StoredDance[] => (rows as never[]).map(danceOfSql);

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
  return sounds(
    store
      .prepare("SELECT * FROM sounds WHERE dance_id = ? AND kind = 'train' ORDER BY start_s, sound_id")
      .all(danceId),
  );
}

/** All dances of a recording, or of all, with their trains. */
export function dancesWithRuns(
  store: Store,
  recordingId?: number,
): { dance: StoredDance; runs: StoredSound[] }[] {
  const where = recordingId === undefined ? '' : 'AND recording_id = @recordingId';
  const given = recordingId === undefined ? {} : { recordingId };
  const rows = dances(store.prepare(`SELECT * FROM dances WHERE true ${where} ORDER BY dance_id`).all(given));
  const trains = sounds(
    store
      .prepare(
        `SELECT * FROM sounds WHERE dance_id IS NOT NULL AND kind = 'train' ${where} ORDER BY start_s, sound_id`,
      )
      .all(given),
  );
  const byDance = new Map<string, StoredSound[]>(rows.map(({ id }) => [id, []]));
  for (const train of trains) byDance.get(train.danceId!)?.push(train);
  return rows.map((dance) => ({ dance, runs: byDance.get(dance.id)! }));
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
