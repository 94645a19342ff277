import type { Rows } from '../../src/server/api.ts';
import type { WindowSound } from '../../src/study/study-schemas.ts';
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

/** Rows of the queue stay where they are, so that nothing jumps under the reviewer's hands. */
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
  return { ...queue, items };
}

/** Whether a reviewer has judged it. */
export function isJudged({ status }: { readonly status: string }): boolean {
  return status !== 'found';
}
