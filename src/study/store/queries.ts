import type { Progress } from '../study-schemas.ts';
import { changeOf } from './events.ts';
import { prepared, type Store } from './open-store.ts';
import {
  danceOfSql,
  type StoredDance,
  type StoredSound,
  soundColumns,
  soundOfRaw,
  soundOfSql,
} from './rows.ts';

const sounds = (rows: unknown[]): StoredSound[] => (rows as never[]).map(soundOfSql);

/** A sound counts as reviewed once it is judged, moved, added or given a dance. */
const REVIEWED = "(status <> 'found' OR edited = 1)";
/** The opposite, as the indexes of the queue have it. */
const WAITING = "status = 'found' AND edited = 0";
/** Added to the longest sound's length: a difference of two times is rounded. */
const MARGIN_S = 1;

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
        `SELECT * FROM sounds WHERE recording_id = @recordingId AND channel = @channel
           AND start_s < @toS AND end_s > @fromS AND start_s > @fromS - @longestS
         ORDER BY start_s, sound_id`,
      )
      .all({ recordingId, channel, fromS, toS, longestS: longestOf(store, recordingId, channel) + MARGIN_S }),
  );
}

/** Trains of a dance, rejected ones too, in order of start. */
export function runsOfDance(store: Store, danceId: string): StoredSound[] {
  const query = `SELECT ${soundColumns} FROM sounds WHERE dance_id = ? AND kind = 'train' ORDER BY start_s, sound_id`;
  return (prepared(store, query).raw().all(danceId) as unknown[][]).map(soundOfRaw);
}

/**
 * All dances of a recording, or of all, each with a stamp that is another whenever the dance or any of its trains
 * has been written, come or gone: every event writes a version higher than all before it. A recording's start, which
 * no event writes, stands in the stamp itself.
 */
export function stampedDances(store: Store, recordingId?: number): { dance: StoredDance; stamp: string }[] {
  const where = recordingId === undefined ? '' : 'WHERE dances.recording_id = @recordingId';
  const rows = store
    .prepare(
      `SELECT dances.*, count(sound_id) AS trains, max(sounds.version) AS newest, start_time
       FROM dances JOIN recordings USING (recording_id) LEFT JOIN sounds ON sounds.dance_id = dances.dance_id AND kind = 'train'
       ${where} GROUP BY dances.dance_id ORDER BY dances.dance_id`,
    )
    .all(recordingId === undefined ? {} : { recordingId }) as {
    trains: number;
    newest: number | null;
    start_time: string | null;
  }[];
  return rows.map((row) => {
    const dance = danceOfSql(row as never);
    return { dance, stamp: `${dance.version}/${row.trains}/${row.newest}/${row.start_time}` };
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
    ...(asked.include === 'unreviewed' ? [WAITING] : []),
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

/** What was counted of each recording, and how the store then stood. */
interface Counted {
  readonly stamp: string;
  readonly eventId: number;
  readonly byRecording: Map<number, Progress>;
  /** Length of the longest sound of each channel of a recording, s. */
  readonly longest: Map<number, Map<number, number>>;
}
const counted = new WeakMap<Store, Counted>();
/** Beyond so many new events all is counted anew. */
const MOST_EVENTS = 50;

/**
 * How much there is and how much of it is reviewed; dances that have a train left. Asked after every edit, and by
 * every page: only recordings in which something has been written since the last time are counted anew.
 */
export function progressOf(store: Store, recordingId?: number): Progress {
  // What is written within a transaction may yet come to nothing.
  const byRecording = store.inTransaction ? new Map<number, Progress>() : countedNow(store).byRecording;
  const ofOne = (id: number): Progress => {
    const progress = byRecording.get(id) ?? countProgress(store, id);
    byRecording.set(id, progress);
    return progress;
  };
  if (recordingId !== undefined) return ofOne(recordingId);
  const ids = prepared(store, 'SELECT recording_id FROM recordings').pluck().all() as number[];
  return ids.map(ofOne).reduce(
    (sum, one) => ({
      sounds: sum.sounds + one.sounds,
      reviewed: sum.reviewed + one.reviewed,
      dances: sum.dances + one.dances,
    }),
    { sounds: 0, reviewed: 0, dances: 0 },
  );
}

/** Length of the longest sound of a channel, s: how far before a window one may begin that reaches into it. */
function longestOf(store: Store, recordingId: number, channel: number): number {
  const byRecording: Counted['longest'] = store.inTransaction ? new Map() : countedNow(store).longest;
  const known = byRecording.get(recordingId) ?? new Map<number, number>();
  byRecording.set(recordingId, known);
  const query = 'SELECT max(end_s - start_s) FROM sounds WHERE recording_id = ? AND channel = ?';
  const lengthS =
    known.get(channel) ?? (prepared(store, query).pluck().get(recordingId, channel) as number | null) ?? 0;
  known.set(channel, lengthS);
  return lengthS;
}

/** Another whenever something may have been written since, here or by others. */
export function storeStamp(store: Store): string {
  // The one changes when others write, the other when this connection does.
  const outside = store.pragma('data_version', { simple: true });
  return `${outside}/${prepared(store, 'SELECT total_changes()').pluck().get()}`;
}

/** What was counted and still holds. */
function countedNow(store: Store): Counted {
  const stamp = storeStamp(store);
  const before = counted.get(store);
  if (before?.stamp === stamp) return before;
  const newest = prepared(store, 'SELECT max(event_id) FROM events').pluck().get() as number | null;
  const eventId = newest ?? 0;
  const touched = before === undefined ? null : recordingsTouched(store, before.eventId);
  const byRecording = new Map(touched === null ? [] : before!.byRecording);
  const longest = new Map(touched === null ? [] : before!.longest);
  for (const id of touched ?? []) {
    byRecording.delete(id);
    longest.delete(id);
  }
  const fresh = { stamp, eventId, byRecording, longest };
  counted.set(store, fresh);
  return fresh;
}

/** Recordings in which events have written since one; null for perhaps all, as when rows were written without any. */
export function recordingsTouched(store: Store, sinceId: number): Set<number> | null {
  const events = prepared(
    store,
    'SELECT event_id AS id, kind, recording_id AS recordingId FROM events WHERE event_id > ? ORDER BY 1 LIMIT ?',
  ).all(sinceId, MOST_EVENTS + 1) as { id: number; kind: string; recordingId: number | null }[];
  if (events.length === 0 || events.length > MOST_EVENTS) return null;
  const touched = new Set<number>();
  for (const { id, kind, recordingId } of events) {
    if (recordingId === null) return null;
    touched.add(recordingId);
    // A detection is of one recording; an edit may be of sounds in several.
    if (kind === 'detect') continue;
    const { before, after } = changeOf(store, id);
    for (const { sounds: some, dances } of [before, after]) {
      for (const row of [...Object.values(some), ...Object.values(dances)]) {
        if (row !== null) touched.add(row.recordingId);
      }
    }
  }
  return touched;
}

function countProgress(store: Store, recordingId: number): Progress {
  return prepared(
    store,
    `SELECT (SELECT count(*) FROM sounds WHERE recording_id = @recordingId) AS sounds,
       (SELECT count(*) FROM sounds WHERE ${REVIEWED} AND recording_id = @recordingId) AS reviewed,
       (SELECT count(DISTINCT dance_id) FROM sounds
          WHERE kind = 'train' AND status <> 'rejected' AND recording_id = @recordingId) AS dances`,
  ).get({ recordingId }) as Progress;
}

/** How many sounds of a kind and status a recording has, and how many of them are reviewed. */
export interface SoundCount {
  readonly recordingId: number;
  readonly kind: StoredSound['kind'];
  readonly status: StoredSound['status'];
  readonly sounds: number;
  readonly reviewed: number;
}

/** The sounds of a study, counted by recording, kind and status. */
export function soundCounts(store: Store): SoundCount[] {
  return store
    .prepare(
      `SELECT recording_id AS recordingId, kind, status, count(*) AS sounds, sum(${REVIEWED}) AS reviewed
       FROM sounds GROUP BY recording_id, kind, status ORDER BY recording_id, kind, status`,
    )
    .all() as SoundCount[];
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

/** What was found in a channel, in stretches of `binS` seconds from the recording’s start; empty ones are left out. */
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
