import { prepared, type Store } from './open-store.ts';
import {
  type DanceState,
  danceOfSql,
  danceState,
  type RowStates,
  type SoundState,
  type StoredDance,
  type StoredSound,
  soundOfSql,
  soundState,
} from './rows.ts';

/** All rows at one time, by id. */
export interface StudyState {
  readonly sounds: ReadonlyMap<string, StoredSound>;
  readonly dances: ReadonlyMap<string, StoredDance>;
}

/** A sound as it is now, or null where there is none of that name. */
export function soundById(store: Store, id: string): StoredSound | null {
  const row = prepared(store, 'SELECT * FROM sounds WHERE sound_id = ?').get(id) as object | undefined;
  return row === undefined ? null : soundOfSql(row as never);
}

/** A dance as it is now, or null where there is none of that name. */
export function danceById(store: Store, id: string): StoredDance | null {
  const row = prepared(store, 'SELECT * FROM dances WHERE dance_id = ?').get(id) as object | undefined;
  return row === undefined ? null : danceOfSql(row as never);
}

/** The present state of the rows that `states` names. */
export function statesNow(store: Store, states: RowStates): RowStates {
  const sounds: Record<string, SoundState | null> = {};
  const dances: Record<string, DanceState | null> = {};
  for (const id of Object.keys(states.sounds)) {
    const row = soundById(store, id);
    sounds[id] = row && soundState(row);
  }
  for (const id of Object.keys(states.dances)) {
    const row = danceById(store, id);
    dances[id] = row && danceState(row);
  }
  return { sounds, dances };
}

/** Makes the named rows what an event says they are after it. Inside a transaction. */
export function applyStates(store: Store, eventId: number, after: RowStates): void {
  const putDance = store.prepare(
    `INSERT INTO dances (dance_id, version, recording_id, channel, bee_id, paint_mark, feeder_id,
       feeder_set, treatment, comb_angle_deg, note) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
     ON CONFLICT (dance_id) DO UPDATE SET version = excluded.version, bee_id = excluded.bee_id,
       paint_mark = excluded.paint_mark, feeder_id = excluded.feeder_id, feeder_set = excluded.feeder_set,
       treatment = excluded.treatment, comb_angle_deg = excluded.comb_angle_deg, note = excluded.note`,
  );
  const putSound = store.prepare(
    `INSERT OR REPLACE INTO sounds (sound_id, version, recording_id, channel, kind, start_s, end_s, dance_id,
       pulse_count, pulse_rate_hz, carrier_hz, snr_db, confidence, status, edited, detection_id, sources)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  );
  const dropDance = store.prepare('DELETE FROM dances WHERE dance_id = ?');
  const dropSound = store.prepare('DELETE FROM sounds WHERE sound_id = ?');
  for (const [id, d] of Object.entries(after.dances)) {
    if (d !== null) {
      const feederSet = d.feederSet ? 1 : 0;
      const place = [id, eventId, d.recordingId, d.channel] as const;
      const noted = [
        d.beeId,
        d.paintMark,
        d.feederId,
        feederSet,
        d.treatment,
        d.combAngleDeg,
        d.note,
      ] as const;
      putDance.run(...place, ...noted);
    }
  }
  for (const [id, s] of Object.entries(after.sounds)) {
    if (s === null) dropSound.run(id);
    else {
      const place = [id, eventId, s.recordingId, s.channel, s.kind, s.startS, s.endS, s.danceId] as const;
      const sound = [s.pulseCount, s.pulseRateHz, s.carrierHz, s.snrDb, s.confidence] as const;
      const source = [s.detectionId, JSON.stringify(s.sources)] as const;
      putSound.run(...place, ...sound, s.status, s.edited ? 1 : 0, ...source);
    }
  }
  for (const [id, dance] of Object.entries(after.dances)) if (dance === null) dropDance.run(id);
}

/**
 * All rows as they were after an event, made of the events alone.
 *
 * @param eventId 0 for before all of them
 */
export function stateAt(store: Store, eventId: number): StudyState {
  const sounds = new Map<string, StoredSound>();
  const dances = new Map<string, StoredDance>();
  const events = store
    .prepare('SELECT event_id AS id, after FROM events WHERE event_id <= ? ORDER BY event_id')
    .iterate(eventId) as IterableIterator<{ id: number; after: string }>;
  for (const event of events) {
    const after = JSON.parse(event.after) as RowStates;
    for (const [id, state] of Object.entries(after.dances)) {
      if (state === null) dances.delete(id);
      else dances.set(id, { id, version: event.id, ...state });
    }
    for (const [id, state] of Object.entries(after.sounds)) {
      if (state === null) sounds.delete(id);
      else sounds.set(id, { id, version: event.id, ...state });
    }
  }
  return { sounds, dances };
}

/** All rows as the tables have them. */
export function stateNow(store: Store): StudyState {
  const sounds = (store.prepare('SELECT * FROM sounds').all() as never[]).map(soundOfSql);
  return {
    sounds: new Map(sounds.map((sound) => [sound.id, sound])),
    dances: new Map(allDances(store).map((dance) => [dance.id, dance])),
  };
}

/** All dances, those without a run too. */
export function allDances(store: Store): StoredDance[] {
  return (store.prepare('SELECT * FROM dances').all() as never[]).map(danceOfSql);
}

/** Throws the tables of sounds and dances away and makes them again from the events. */
export function rebuildState(store: Store): void {
  const rebuild = store.transaction(() => {
    store.exec('DELETE FROM sounds; DELETE FROM dances');
    const ids = store.prepare('SELECT event_id FROM events ORDER BY event_id').pluck().all() as number[];
    const after = store.prepare('SELECT after FROM events WHERE event_id = ?').pluck();
    for (const id of ids) applyStates(store, id, JSON.parse(after.get(id) as string) as RowStates);
  });
  rebuild.immediate();
}
