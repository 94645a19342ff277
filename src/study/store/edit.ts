import { InputError } from '../../input-error.ts';
import { planEdit } from '../study-edit-plan.ts';
import type { Edit, ReviewEvent } from '../study-schemas.ts';
import { appendEvent, changeOf, eventById, eventByRequest, newestEvents, undoStacks } from './events.ts';
import { newIds } from './ids.ts';
import type { Store } from './open-store.ts';
import { pulsesOf } from './pulses.ts';
import { recordingById } from './recordings.ts';
import type { RowStates, StoredSound } from './rows.ts';
import { danceById, soundById, statesNow } from './state.ts';

/** Rows changed since the reviewer saw them: nothing was written. */
export class LostRace extends Error {
  readonly soundIds: readonly string[];
  readonly danceIds: readonly string[];

  constructor(message: string, ids: { sounds?: readonly string[]; dances?: readonly string[] }) {
    super(message);
    this.name = 'LostRace';
    this.soundIds = ids.sounds ?? [];
    this.danceIds = ids.dances ?? [];
  }
}

/** There is no edit to take back or do again. */
export class NothingToUndo extends Error {}

export interface Reviewer {
  readonly reviewer: string;
  readonly requestId?: string | undefined;
}

/**
 * Does an edit: one event, on disk when this returns. A request that was done before gives its event again.
 *
 * @throws LostRace when a row has another version than the edit names; InputError when it makes no sense
 */
export function applyEdit(store: Store, edit: Edit, by: Reviewer): ReviewEvent {
  return once(store, by, () => {
    const wanted = 'targets' in edit ? edit.targets : 'target' in edit ? [edit.target] : [];
    const ids = wanted.map(({ id }) => id);
    if (new Set(ids).size !== ids.length) {
      throw new InputError({ file: 'edit', found: 'one row twice', wanted: 'each row once' });
    }
    const ofDance = edit.kind === 'dance';
    const rows = ids.map((id) => (ofDance ? danceById(store, id) : soundById(store, id)));
    const lost = wanted.filter(({ version }, index) => rows[index]?.version !== version);
    if (lost.length > 0) {
      const lostIds = lost.map(({ id }) => id);
      throw new LostRace(
        `${lostIds.join(', ')}: changed by somebody else in the meantime`,
        ofDance ? { dances: lostIds } : { sounds: lostIds },
      );
    }
    const danceId = ofDance ? edit.target.id : 'danceId' in edit ? edit.danceId : null;
    const plan = planEdit(edit, {
      sounds: ofDance ? [] : (rows as StoredSound[]),
      dance: danceId === null ? null : danceById(store, danceId),
      pulseTimesS: (sound) => pulsesOf(store, sound),
      recording: (id) => recordingById(store, id),
      formerDanceId: (soundId) => formerDanceId(store, by.reviewer, soundId),
      ...newIds(store),
    });
    const change = { before: statesNow(store, plan.after), after: plan.after };
    const event = { ...by, kind: edit.kind, recordingId: plan.recordingId };
    return appendEvent(store, event, change);
  });
}

/** How far back it is looked for what a sound was before: kinds are gone through in a row. */
const LOOKED_BACK = 50;

/** Going through the kinds of a run and back to a run leaves it in the dance that it was in. */
function formerDanceId(store: Store, reviewer: string, soundId: string): string | null {
  for (const { id, kind, targets } of newestEvents(store, LOOKED_BACK, reviewer)) {
    if (!targets.includes(soundId)) continue;
    if (kind !== 'sound-kind') return null;
    const danceId = changeOf(store, id).before.sounds[soundId]?.danceId ?? null;
    if (danceId !== null) return danceById(store, danceId) === null ? null : danceId;
  }
  return null;
}

/**
 * Takes back a reviewer's last edit that is not taken back yet, by an event of its own.
 *
 * @throws NothingToUndo; LostRace when others have since changed what it would restore
 */
export function undoEdit(store: Store, by: Reviewer): ReviewEvent {
  return once(store, by, () => {
    const last = undoStacks(store, by.reviewer).undo.at(-1);
    if (last === undefined) throw new NothingToUndo('there is no edit to take back');
    return reverse(store, last, 'undo', by);
  });
}

/** Does again what a reviewer last took back. Throws as `undoEdit`. */
export function redoEdit(store: Store, by: Reviewer): ReviewEvent {
  return once(store, by, () => {
    const last = undoStacks(store, by.reviewer).redo.at(-1);
    if (last === undefined) throw new NothingToUndo('there is nothing to do again');
    return reverse(store, last, 'redo', by);
  });
}

function reverse(store: Store, eventId: number, kind: 'undo' | 'redo', by: Reviewer): ReviewEvent {
  const { before, after } = changeOf(store, eventId);
  const now = statesNow(store, after);
  const moved = (rows: 'sounds' | 'dances') =>
    Object.keys(after[rows]).filter((id) => !sameState(now[rows][id], after[rows][id]));
  const lost = { sounds: moved('sounds'), dances: [...moved('dances'), ...inUse(store, before)] };
  if (lost.sounds.length + lost.dances.length > 0) {
    const ids = [...lost.sounds, ...lost.dances].join(', ');
    throw new LostRace(`${ids}: changed since, so that it cannot be taken back`, lost);
  }
  const { recordingId } = eventById(store, eventId)!;
  return appendEvent(store, { ...by, kind, recordingId, undoOf: eventId }, { before: now, after: before });
}

/** Dances that would go while trains that stay are in them. */
function inUse(store: Store, after: RowStates): string[] {
  const members = store.prepare('SELECT sound_id FROM sounds WHERE dance_id = ?').pluck();
  return Object.keys(after.dances).filter(
    (id) =>
      after.dances[id] === null && (members.all(id) as string[]).some((sound) => !(sound in after.sounds)),
  );
}

function sameState(a: unknown, b: unknown): boolean {
  return sortedJson(a) === sortedJson(b);
}

function sortedJson(state: unknown): string {
  return JSON.stringify(state, (_, value: unknown) =>
    value !== null && typeof value === 'object' && !Array.isArray(value)
      ? Object.fromEntries(Object.entries(value).sort(([a], [b]) => (a < b ? -1 : 1)))
      : value,
  );
}

function once(store: Store, by: Reviewer, act: () => ReviewEvent): ReviewEvent {
  const transaction = store.transaction(() => {
    const done = by.requestId === undefined ? null : eventByRequest(store, by.requestId);
    return done ?? act();
  });
  return transaction.immediate();
}
