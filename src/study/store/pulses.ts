import type { Store } from './open-store.ts';
import type { SoundState } from './rows.ts';

/** Times as bytes: 64-bit little-endian, s. */
export function packTimes(timesS: readonly number[]): Buffer {
  const bytes = Buffer.alloc(8 * timesS.length);
  for (const [index, time] of timesS.entries()) bytes.writeDoubleLE(time, 8 * index);
  return bytes;
}

/** Times, s, of 8-byte little-endian numbers one behind another. */
export function unpackTimes(bytes: Buffer | null): number[] {
  return bytes === null ? [] : Array.from({ length: bytes.length / 8 }, (_, k) => bytes.readDoubleLE(8 * k));
}

/** Middles of all pulses of a sound's sources, s, in order; also those outside its present bounds. */
export function pulsesOf(store: Store, sound: Pick<SoundState, 'detectionId' | 'sources'>): number[] {
  if (sound.detectionId === null) return [];
  const find = store
    .prepare('SELECT pulse_times FROM detected_sounds WHERE detection_id = ? AND sound_id = ?')
    .pluck();
  return sound.sources
    .flatMap((source) => unpackTimes((find.get(sound.detectionId, source) as Buffer | undefined) ?? null))
    .sort((a, b) => a - b);
}

/** Those of its pulses that lie within a sound, to 0.1 ms. */
export function pulsesWithin(store: Store, sound: SoundState): number[] {
  return pulsesOf(store, sound)
    .filter((time) => time >= sound.startS && time <= sound.endS)
    .map((time) => Math.round(1e4 * time) / 1e4);
}
