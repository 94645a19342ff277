import type { Store } from './open-store.ts';
import { recordingById } from './recordings.ts';

/** Letter of the ids of trains, calls and dances. */
export type IdLetter = 't' | 'c' | 'd';

/**
 * Makers of ids that no row has or ever had, even one taken back: numbers go on by recording, channel and
 * letter, as in hive-t0012, or hive-c2-t0012 for channel 2. Inside a transaction.
 */
export function newIds(store: Store) {
  const count = store
    .prepare(
      `INSERT INTO id_counters (prefix, last) VALUES (?, 1)
       ON CONFLICT (prefix) DO UPDATE SET last = last + 1 RETURNING last`,
    )
    .pluck();
  const stems = new Map<number, string>();
  const newId = (recordingId: number, channel: number, letter: IdLetter): string => {
    const stem = stems.get(recordingId) ?? recordingById(store, recordingId)!.stem;
    stems.set(recordingId, stem);
    const prefix = `${channel === 1 ? stem : `${stem}-c${channel}`}-${letter}`;
    return `${prefix}${String(count.get(prefix)).padStart(4, '0')}`;
  };
  return {
    newSoundId: (recordingId: number, channel: number, letter: 't' | 'c') =>
      newId(recordingId, channel, letter),
    newDanceId: (recordingId: number, channel: number) => newId(recordingId, channel, 'd'),
  };
}
