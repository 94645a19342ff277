import type { SavedCalibration } from './calibrations.ts';
import type { Store } from './open-store.ts';
import type { Change, DanceState, SoundState } from './rows.ts';

/** What a calibration rests on of a run: null for what is none, or is rejected. */
const runOf = (sound: SoundState | null): string =>
  sound === null || sound.kind !== 'train' || sound.status === 'rejected' || sound.danceId === null
    ? 'none'
    : JSON.stringify([sound.danceId, sound.startS, sound.endS]);

const detailsOf = (dance: DanceState | null): string =>
  JSON.stringify(dance && [dance.beeId, dance.feederId, dance.feederSet, dance.treatment]);

/**
 * Dances of a saved calibration of which runs, bee, feeder or treatment are others now than when it was saved, by the
 * events since. What was changed and changed back counts as the same; feeders.csv has no events.
 */
export function dancesChangedSince(store: Store, saved: SavedCalibration): string[] {
  const rows = store
    .prepare('SELECT before, after FROM events WHERE at > ? ORDER BY event_id')
    .all(saved.at) as { before: string; after: string }[];
  const runs = new Map<string, { first: SoundState | null; last: SoundState | null }>();
  const dances = new Map<string, { first: DanceState | null; last: DanceState | null }>();
  for (const row of rows) {
    const change = { before: JSON.parse(row.before), after: JSON.parse(row.after) } as Change;
    note(runs, change.before.sounds, change.after.sounds);
    note(dances, change.before.dances, change.after.dances);
  }
  const changed = new Set<string>();
  for (const { first, last } of runs.values()) {
    if (runOf(first) === runOf(last)) continue;
    for (const sound of [first, last]) if (sound?.danceId) changed.add(sound.danceId);
  }
  for (const [id, { first, last }] of dances) if (detailsOf(first) !== detailsOf(last)) changed.add(id);
  return saved.danceIds.filter((id) => changed.has(id));
}

function note<T>(
  seen: Map<string, { first: T | null; last: T | null }>,
  before: Readonly<Record<string, T | null>>,
  after: Readonly<Record<string, T | null>>,
): void {
  for (const [id, last] of Object.entries(after)) {
    seen.set(id, { first: seen.has(id) ? seen.get(id)!.first : (before[id] ?? null), last });
  }
}
