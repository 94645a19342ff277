import type { ReviewEvent } from '../study-schemas.ts';
import type { Store } from './open-store.ts';
import type { Change, RowStates } from './rows.ts';
import { applyStates } from './state.ts';

/** An event to be: what is done, by whom. */
export interface NewEvent {
  readonly reviewer: string;
  readonly kind: ReviewEvent['kind'];
  readonly recordingId: number | null;
  readonly undoOf?: number;
  readonly requestId?: string | undefined;
}

/** An event's columns beside what it did, as `eventOfSql` takes them. */
export const eventColumns = `event_id AS id, at, reviewer, kind, recording_id AS recordingId, target, undo_of AS undoOf`;

/** An event as the store has it. */
export type EventSql = Omit<ReviewEvent, 'targets'> & { readonly target: string };

/** An event of its row. */
export function eventOfSql({ target, ...event }: EventSql): ReviewEvent {
  return { ...event, targets: JSON.parse(target) as string[] };
}

/** Writes an event and what it does to the rows. Inside a transaction, so that neither is without the other. */
export function appendEvent(store: Store, event: NewEvent, change: Change): ReviewEvent {
  const { sounds, dances } = change.after;
  // A detection or an import touches thousands of rows, which nobody wants listed.
  const targets =
    event.kind === 'detect' || event.kind === 'import'
      ? []
      : [...Object.keys(sounds), ...Object.keys(dances)];
  const at = new Date().toISOString();
  const { lastInsertRowid } = store
    .prepare(
      `INSERT INTO events (at, reviewer, kind, recording_id, target, before, after, undo_of, request_id)
       VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
    )
    .run(
      at,
      event.reviewer,
      event.kind,
      event.recordingId,
      JSON.stringify(targets),
      JSON.stringify(change.before),
      JSON.stringify(change.after),
      event.undoOf ?? null,
      event.requestId ?? null,
    );
  const id = Number(lastInsertRowid);
  applyStates(store, id, change.after);
  const { reviewer, kind, recordingId, undoOf = null } = event;
  return { id, at, reviewer, kind, recordingId, targets, undoOf };
}

/** An event, or null where there is none of that number. */
export function eventById(store: Store, id: number): ReviewEvent | null {
  const row = store.prepare(`SELECT ${eventColumns} FROM events WHERE event_id = ?`).get(id);
  return row === undefined ? null : eventOfSql(row as EventSql);
}

/** The event that a request made, or null where it made none: the same request again is not done twice. */
export function eventByRequest(store: Store, requestId: string): ReviewEvent | null {
  const row = store.prepare(`SELECT ${eventColumns} FROM events WHERE request_id = ?`).get(requestId);
  return row === undefined ? null : eventOfSql(row as EventSql);
}

/** Rows before and after an event. */
export function changeOf(store: Store, eventId: number): Change {
  const row = store.prepare('SELECT before, after FROM events WHERE event_id = ?').get(eventId) as {
    before: string;
    after: string;
  };
  return { before: JSON.parse(row.before) as RowStates, after: JSON.parse(row.after) as RowStates };
}

/** Number of the newest event; 0 where there is none. */
export function lastEventId(store: Store): number {
  return (store.prepare('SELECT max(event_id) FROM events').pluck().get() as number | null) ?? 0;
}

/** Events after one, in order. */
export function eventsAfter(store: Store, eventId: number): ReviewEvent[] {
  const rows = store
    .prepare(`SELECT ${eventColumns} FROM events WHERE event_id > ? ORDER BY event_id`)
    .all(eventId);
  return (rows as EventSql[]).map(eventOfSql);
}

/** The newest events, newest first. */
export function newestEvents(store: Store, limit: number, reviewer?: string): ReviewEvent[] {
  const rows =
    reviewer === undefined
      ? store.prepare(`SELECT ${eventColumns} FROM events ORDER BY event_id DESC LIMIT ?`).all(limit)
      : store
          .prepare(`SELECT ${eventColumns} FROM events WHERE reviewer = ? ORDER BY event_id DESC LIMIT ?`)
          .all(reviewer, limit);
  return (rows as EventSql[]).map(eventOfSql);
}

/** What a reviewer may take back and do again, the next one last. */
export interface UndoStacks {
  /** Edits, and redone edits by the event that redid them. */
  readonly undo: readonly number[];
  /** Undo events. */
  readonly redo: readonly number[];
}

/** Made of the events alone, so that it outlives sessions. Detections and imports are nobody's edit. */
export function undoStacks(store: Store, reviewer: string): UndoStacks {
  const undo: number[] = [];
  const redo: number[] = [];
  const rows = store
    .prepare(
      `SELECT event_id AS id, kind FROM events WHERE reviewer = ? AND kind NOT IN ('detect', 'import')
       ORDER BY event_id`,
    )
    .iterate(reviewer) as IterableIterator<{ id: number; kind: ReviewEvent['kind'] }>;
  for (const { id, kind } of rows) {
    if (kind === 'undo') {
      undo.pop();
      redo.push(id);
    } else if (kind === 'redo') {
      redo.pop();
      undo.push(id);
    } else {
      undo.push(id);
      redo.length = 0;
    }
  }
  return { undo, redo };
}
