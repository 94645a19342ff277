import type { CalibrationRecord } from '../calibration-record.ts';
import type { ReviewEvent, SoundKind } from '../study-schemas.ts';
import type { SavedCalibration } from './calibrations.ts';
import type { DetectionSummary } from './detections.ts';
import type { Store } from './open-store.ts';
import { packTimes } from './pulses.ts';
import { insertRecordingRow, type StoredRecording } from './recordings.ts';
import type { Change } from './rows.ts';
import { applyStates } from './state.ts';

/** A sound as a detection found it. */
export interface DetectedRow {
  readonly detectionId: number;
  readonly soundId: string;
  readonly kind: SoundKind;
  readonly channel: number;
  readonly startS: number;
  readonly endS: number;
  readonly carrierHz: number | null;
  readonly snrDb: number | null;
  readonly confidence: number | null;
  /** null for calls. */
  readonly pulseTimesS: readonly number[] | null;
}

/** All that a store keeps beside the rows as they now are. */
export interface StoreHistory {
  /** By recording. */
  readonly addedAt: ReadonlyMap<number, string>;
  readonly detections: readonly DetectionSummary[];
  readonly detectedSounds: readonly DetectedRow[];
  readonly events: readonly (ReviewEvent & { readonly change: Change })[];
  /** Every calibration ever saved, oldest first. */
  readonly calibrations: readonly (SavedCalibration & { readonly record: CalibrationRecord })[];
}

/** Writes a history into an empty store, and makes the rows that its events leave. Inside a transaction. */
export function restoreHistory(
  store: Store,
  recordings: readonly Omit<StoredRecording, 'modifiedMs'>[],
  history: StoreHistory,
): void {
  for (const recording of recordings) {
    insertRecordingRow(store, { ...recording, modifiedMs: 0, addedAt: history.addedAt.get(recording.id)! });
  }
  const detection = store.prepare(
    `INSERT INTO detections (detection_id, recording_id, settings_hash, settings, combtone_version, made_at, changes)
     VALUES (?, ?, ?, ?, ?, ?, ?)`,
  );
  for (const one of history.detections) {
    const changes = JSON.stringify(one.changes);
    const settings = JSON.stringify(one.settings);
    detection.run(
      one.id,
      one.recordingId,
      one.settingsHash,
      settings,
      one.combtoneVersion,
      one.madeAt,
      changes,
    );
  }
  const sound = store.prepare(
    `INSERT INTO detected_sounds (detection_id, sound_id, kind, channel, start_s, end_s, carrier_hz, snr_db,
       confidence, pulse_times) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  );
  for (const one of history.detectedSounds) {
    const place = [one.detectionId, one.soundId, one.kind, one.channel, one.startS, one.endS] as const;
    const pulses = one.pulseTimesS && packTimes(one.pulseTimesS);
    sound.run(...place, one.carrierHz, one.snrDb, one.confidence, pulses);
  }
  const event = store.prepare(
    `INSERT INTO events (event_id, at, reviewer, kind, recording_id, target, before, after, undo_of)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  );
  for (const { id, at, reviewer, kind, recordingId, targets, undoOf, change } of history.events) {
    const [before, after] = [JSON.stringify(change.before), JSON.stringify(change.after)];
    event.run(id, at, reviewer, kind, recordingId, JSON.stringify(targets), before, after, undoOf);
    applyStates(store, id, change.after);
  }
  const calibration = store.prepare(
    'INSERT INTO calibrations (calibration_id, name, at, reviewer, dance_ids, record) VALUES (?, ?, ?, ?, ?, ?)',
  );
  for (const { id, name, at, reviewer, danceIds, record } of history.calibrations) {
    calibration.run(id, name, at, reviewer, JSON.stringify(danceIds), JSON.stringify(record));
  }
}

/** Lets new ids go on after the highest of those given, such as hive-t0012. */
export function continueIds(store: Store, ids: Iterable<string>): void {
  const highest = new Map<string, number>();
  for (const id of ids) {
    const [, prefix, digits] = /^(.*-[tcd])(\d+)$/s.exec(id) ?? [];
    if (prefix === undefined) continue;
    highest.set(prefix, Math.max(highest.get(prefix) ?? 0, Number(digits)));
  }
  const put = store.prepare('INSERT INTO id_counters (prefix, last) VALUES (?, ?)');
  for (const [prefix, last] of highest) put.run(prefix, last);
}
