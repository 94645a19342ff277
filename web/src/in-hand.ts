import type { WindowSound } from '../../src/study/study-schemas.ts';
import { now, type State } from './store.ts';

/**
 * The sounds in hand that are known to the page: of the window, of the ladder, whose runs may lie far from it, and what
 * was in hand before the last was taken besides, which may be of another dance and of elsewhere.
 */
export function inHand(
  state: Pick<State, 'selected' | 'sounds' | 'dance' | 'held'> = now(),
): readonly WindowSound[] {
  const { selected, sounds, dance, held } = state;
  const known = (id: string) =>
    sounds.get(id) ?? dance?.runs.find((run) => run.id === id) ?? held.find((sound) => sound.id === id);
  return selected.flatMap((id) => known(id) ?? []);
}
