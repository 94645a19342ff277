import { type MergeCounts, mergeDetection, type NewSound } from '../study-merge.ts';
import { appendEvent } from './events.ts';
import { newIds } from './ids.ts';
import type { Store } from './open-store.ts';
import { packTimes } from './pulses.ts';
import {
  type Change,
  type DanceState,
  danceOfSql,
  danceState,
  emptyDance,
  type SoundState,
  type StoredDance,
  type StoredSound,
  soundOfSql,
  soundState,
} from './rows.ts';

/** A sound found, with all that the store keeps of it. */
export interface DetectedSound extends NewSound {
  readonly pulseRateHz: number | null;
  readonly snrDb: number | null;
  readonly confidence: number | null;
  /** Middles of its pulses, s; null for calls. */
  readonly pulseTimesS: readonly number[] | null;
}

export interface NewDetection {
  readonly recordingId: number;
  readonly settingsHash: string;
  readonly settings: unknown;
  readonly combtoneVersion: string;
  readonly sounds: readonly DetectedSound[];
}

export interface DetectionSummary {
  readonly id: number;
  readonly recordingId: number;
  readonly settingsHash: string;
  readonly settings: unknown;
  readonly combtoneVersion: string;
  readonly madeAt: string;
  readonly changes: MergeCounts;
}

const columns = `detection_id AS id, recording_id AS recordingId, settings_hash AS settingsHash, settings,
  combtone_version AS combtoneVersion, made_at AS madeAt, changes`;

function detectionOfSql(row: unknown): DetectionSummary {
  const { settings, changes, ...rest } = row as Omit<DetectionSummary, 'changes'> &
    Readonly<Record<'settings' | 'changes', string>>;
  return { ...rest, settings: JSON.parse(settings), changes: JSON.parse(changes) as MergeCounts };
}

/** All detections, oldest first. */
export function allDetections(store: Store): DetectionSummary[] {
  return store.prepare(`SELECT ${columns} FROM detections ORDER BY detection_id`).all().map(detectionOfSql);
}

/** The detection that the rows of a recording are of: the newest. */
export function currentDetection(store: Store, recordingId: number): DetectionSummary | null {
  const row = store
    .prepare(`SELECT ${columns} FROM detections WHERE recording_id = ? ORDER BY detection_id DESC LIMIT 1`)
    .get(recordingId);
  return row === undefined ? null : detectionOfSql(row);
}

/**
 * Takes a detection into the study: one event. Reviewed rows stay as they are; what nobody reviewed becomes what
 * was found now, keeping its id where it is the same sound.
 */
export function saveDetection(store: Store, detection: NewDetection): DetectionSummary {
  const save = store.transaction((): DetectionSummary => {
    const { recordingId, settingsHash, settings, combtoneVersion, sounds } = detection;
    const old = rowsOf(store, recordingId);
    const merge = mergeDetection(old.sounds, old.dances, sounds);
    const madeAt = new Date().toISOString();
    const { lastInsertRowid } = store
      .prepare(
        `INSERT INTO detections (recording_id, settings_hash, settings, combtone_version, made_at, changes)
         VALUES (?, ?, ?, ?, ?, ?)`,
      )
      .run(
        recordingId,
        settingsHash,
        JSON.stringify(settings),
        combtoneVersion,
        madeAt,
        JSON.stringify(merge.counts),
      );
    const id = Number(lastInsertRowid);
    const change = changeBy(store, id, detection, old, merge);
    appendEvent(store, { reviewer: 'combtone', kind: 'detect', recordingId }, change);
    return { id, recordingId, settingsHash, settings, combtoneVersion, madeAt, changes: merge.counts };
  });
  return save.immediate();
}

interface RecordingRows {
  readonly sounds: readonly StoredSound[];
  readonly dances: readonly StoredDance[];
}

function rowsOf(store: Store, recordingId: number): RecordingRows {
  const sounds = store.prepare('SELECT * FROM sounds WHERE recording_id = ? ORDER BY start_s, sound_id');
  const dances = store.prepare('SELECT * FROM dances WHERE recording_id = ? ORDER BY dance_id');
  return {
    sounds: (sounds.all(recordingId) as never[]).map(soundOfSql),
    dances: (dances.all(recordingId) as never[]).map(danceOfSql),
  };
}

/** Stores what was found and says what the rows become. */
function changeBy(
  store: Store,
  detectionId: number,
  { recordingId, sounds }: NewDetection,
  old: RecordingRows,
  merge: ReturnType<typeof mergeDetection>,
): Change {
  const before = {
    sounds: {} as Record<string, SoundState | null>,
    dances: {} as Record<string, DanceState | null>,
  };
  const after = {
    sounds: {} as Record<string, SoundState | null>,
    dances: {} as Record<string, DanceState | null>,
  };
  const ids = newIds(store);
  const danceIds = new Map(merge.danceOf);
  const danceIdOf = (sound: DetectedSound): string | null => {
    if (sound.dance === null) return null;
    const known = danceIds.get(sound.dance);
    if (known !== undefined) return known;
    const made = ids.newDanceId(recordingId, sound.channel);
    danceIds.set(sound.dance, made);
    before.dances[made] = null;
    after.dances[made] = { ...emptyDance, recordingId, channel: sound.channel };
    return made;
  };
  const keep = keeper(store, detectionId);
  for (const [index, sound] of sounds.entries()) {
    const row = merge.oldOf[index] ?? null;
    const fresh = () => ids.newSoundId(recordingId, sound.channel, sound.kind === 'train' ? 't' : 'c');
    const reviewed = row !== null && (row.status !== 'found' || row.edited);
    const id = row === null || reviewed ? fresh() : row.id;
    keep(id, sound);
    if (reviewed) continue;
    before.sounds[id] = row && soundState(row);
    after.sounds[id] = foundState(sound, recordingId, danceIdOf(sound), detectionId, id);
  }
  for (const row of merge.gone) {
    before.sounds[row.id] = soundState(row);
    after.sounds[row.id] = null;
  }
  removeEmptyDances(old, before, after);
  return { before, after };
}

function foundState(
  sound: DetectedSound,
  recordingId: number,
  danceId: string | null,
  detectionId: number,
  id: string,
): SoundState {
  const { channel, kind, startS, endS, pulseRateHz, carrierHz, snrDb, confidence, pulseTimesS } = sound;
  return {
    recordingId,
    channel,
    kind,
    startS,
    endS,
    danceId,
    pulseCount: pulseTimesS === null ? null : pulseTimesS.length,
    pulseRateHz,
    carrierHz,
    snrDb,
    confidence,
    status: 'found',
    edited: false,
    detectionId,
    sources: [id],
  };
}

/** Dances that nobody noted anything of go when their last train does. */
function removeEmptyDances(
  old: RecordingRows,
  before: { dances: Record<string, DanceState | null> },
  after: { sounds: Record<string, SoundState | null>; dances: Record<string, DanceState | null> },
): void {
  const inUse = new Set<string | null>();
  for (const row of old.sounds) if (!(row.id in after.sounds)) inUse.add(row.danceId);
  for (const row of Object.values(after.sounds)) inUse.add(row?.danceId ?? null);
  for (const dance of old.dances) {
    const { beeId, paintMark, feederSet, treatment, combAngleDeg, note } = dance;
    const noted =
      feederSet || [beeId, paintMark, treatment, combAngleDeg, note].some((cell) => cell !== null);
    if (inUse.has(dance.id) || noted) continue;
    before.dances[dance.id] = danceState(dance);
    after.dances[dance.id] = null;
  }
}

function keeper(store: Store, detectionId: number): (id: string, sound: DetectedSound) => void {
  const insert = store.prepare(
    `INSERT INTO detected_sounds (detection_id, sound_id, kind, channel, start_s, end_s, carrier_hz, snr_db,
       confidence, pulse_times) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  );
  return (id, sound) => {
    const { kind, channel, startS, endS, carrierHz, snrDb, confidence, pulseTimesS } = sound;
    const pulses = pulseTimesS === null ? null : packTimes(pulseTimesS);
    insert.run(detectionId, id, kind, channel, startS, endS, carrierHz, snrDb, confidence, pulses);
  };
}
