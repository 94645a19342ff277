import type { Rows } from '../../src/server/api.ts';
import type { Sound, WindowSound } from '../../src/study/study-schemas.ts';
import type { State } from './store.ts';

/**
 * The state with rows from the service taken in. A row older than the one known is left: answers and the event
 * stream may cross.
 */
export function withRows(state: State, rows: Rows): Partial<State> {
  const sounds = new Map(state.sounds);
  for (const sound of rows.sounds) {
    const here = sound.recordingId === state.recordingId && sound.channel === state.channel;
    const version = sounds.get(sound.id)?.version ?? 0;
    if (here && isKnown(state, sound) && sound.version >= version) sounds.set(sound.id, sound);
  }
  for (const id of rows.removedSoundIds) sounds.delete(id);
  const dances = new Map(state.dances);
  for (const dance of rows.dances) dances.set(dance.id, dance);
  for (const id of rows.removedDanceIds) dances.delete(id);
  const gone = new Set(rows.removedSoundIds);
  return {
    sounds,
    dances,
    queue: queueWith(state, rows),
    selected: state.selected.some((id) => gone.has(id))
      ? state.selected.filter((id) => !gone.has(id))
      : state.selected,
  };
}

function isKnown({ known }: State, sound: WindowSound): boolean {
  return known !== null && sound.endS >= known.fromS && sound.startS <= known.toS;
}

/**
 * Rows of the queue stay where they are, so that nothing jumps under the reviewer's hands; how many are left is
 * counted on from what the service said.
 */
function queueWith({ queue }: State, rows: Rows): State['queue'] {
  if (queue === null) return null;
  const news = new Map(rows.sounds.map((sound) => [sound.id, sound]));
  const gone = new Set(rows.removedSoundIds);
  const items = queue.items
    .filter(({ id }) => !gone.has(id))
    .map((item) => {
      const fresh = news.get(item.id);
      return fresh !== undefined && fresh.version >= item.version ? fresh : item;
    });
  const counted = (some: readonly Sound[]) =>
    queue.all ? some.length : some.filter((sound) => !isReviewed(sound)).length;
  const total = Math.max(0, queue.total + counted(items) - counted(queue.items));
  return { ...queue, items, total };
}

/** As the service counts: judged, moved, added or given a dance. */
export function isReviewed({ status, edited }: Sound): boolean {
  return status !== 'found' || edited;
}

/** Whether a reviewer has judged it. */
export function isJudged({ status }: { readonly status: string }): boolean {
  return status !== 'found';
}

interface Judgeable {
  readonly id: string;
  readonly status: string;
}

/** The first of a list that waits for review after what is in hand, else the first of those before it. */
export function waitingAfter<T extends Judgeable>(
  list: readonly T[],
  inHand: readonly string[],
): T | undefined {
  const at = list.findIndex(({ id }) => id === inHand[0]) + 1;
  return [...list.slice(at), ...list.slice(0, at)].find((one) => !isJudged(one) && !inHand.includes(one.id));
}
