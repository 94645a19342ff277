import { isDeepStrictEqual } from 'node:util';
import { lastEventId } from './events.ts';
import type { Store } from './open-store.ts';
import { stateAt, stateNow } from './state.ts';

/** One sentence for each fault; none where all is sound. */
export interface StoreFaults {
  /** Pages, indexes and constraints, as SQLite finds them. */
  readonly pages: readonly string[];
  /** Rows that name others which are not there. */
  readonly references: readonly string[];
  /** Events that are missing from the row of their numbers. */
  readonly events: readonly string[];
  /** Rows that are not what the events make of them. */
  readonly rows: readonly string[];
}

/**
 * Looks a store through at one moment, though others write to it meanwhile. Changes nothing.
 *
 * @param whole false for a store of an older version, whose events and rows this program would misread
 * @throws the store's errors where it is too damaged to be looked through
 */
export function storeFaults(store: Store, whole = true): StoreFaults {
  const look = store.transaction((): StoreFaults => {
    const pages = pageFaults(store);
    // What is on a torn page may say anything, or bring the reading to an end.
    if (pages.length > 0 || !whole) return { pages, references: [], events: [], rows: [] };
    const references = [...referenceFaults(store), ...pulseFaults(store)];
    return { pages, references, events: eventFaults(store), rows: rowFaults(store) };
  });
  return look.deferred();
}

function pageFaults(store: Store): string[] {
  const words = store.pragma('integrity_check') as { integrity_check: string }[];
  return words.map((row) => row.integrity_check).filter((text) => text !== 'ok');
}

function referenceFaults(store: Store): string[] {
  const broken = store.pragma('foreign_key_check') as { table: string; parent: string }[];
  const counts = new Map<string, number>();
  for (const { table, parent } of broken) {
    const pair = `${table} that name rows of ${parent} which are not there`;
    counts.set(pair, (counts.get(pair) ?? 0) + 1);
  }
  return [...counts].map(([pair, count]) => `${count} rows of ${pair}`);
}

/** Sounds keep the numbers of detected sounds in a list, which no foreign key watches. */
function pulseFaults(store: Store): string[] {
  const lost = store
    .prepare(
      `SELECT DISTINCT sounds.sound_id FROM sounds, json_each(sounds.sources) AS source
       WHERE sounds.detection_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM detected_sounds AS found
         WHERE found.detection_id = sounds.detection_id AND found.sound_id = source.value) ORDER BY 1`,
    )
    .pluck()
    .all() as string[];
  return lost.map((id) => `${id}: the sounds it was made of are not there`);
}

/** Events are numbered from 1 without gaps, and are never removed. */
function eventFaults(store: Store): string[] {
  const given = store.prepare("SELECT seq FROM sqlite_sequence WHERE name = 'events'").pluck().get();
  const last = Math.max((given as number | undefined) ?? 0, lastEventId(store));
  const ids = store.prepare('SELECT event_id FROM events ORDER BY event_id').pluck();
  const faults: string[] = [];
  let next = 1;
  const gap = (upTo: number) => {
    if (upTo > next) faults.push(`events ${next} to ${upTo - 1} are not there`);
    next = upTo + 1;
  };
  for (const id of ids.iterate() as IterableIterator<number>) gap(id);
  gap(last + 1);
  return faults;
}

function rowFaults(store: Store): string[] {
  const now = stateNow(store);
  const made = stateAt(store, lastEventId(store));
  return [...unlike('sound', now.sounds, made.sounds), ...unlike('dance', now.dances, made.dances)];
}

function unlike(kind: string, now: ReadonlyMap<string, unknown>, made: ReadonlyMap<string, unknown>) {
  return [...new Set([...made.keys(), ...now.keys()])].sort().flatMap((id) => {
    if (!now.has(id)) return [`${kind} ${id}: not there, though the events make it`];
    if (!made.has(id)) return [`${kind} ${id}: there, though no event makes it`];
    return isDeepStrictEqual(now.get(id), made.get(id)) ? [] : [`${kind} ${id}: not as the events make it`];
  });
}
