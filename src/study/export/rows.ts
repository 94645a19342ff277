import { withOffset } from '../../bearing/local-time.ts';
import type { CalibrationRecord } from '../calibration-record.ts';
import type { Arrival } from '../day/arrivals.ts';
import { dayOf } from '../day/study-day.ts';
import { allDetections } from '../store/detections.ts';
import type { StoreHistory } from '../store/history.ts';
import {
  addingTimes,
  calibrationsEverSaved,
  danceReviewers,
  detectedPulses,
  detectedSounds,
  eventsWithChanges,
  type Signature,
  type SignedSound,
  soundsOfRecording,
} from '../store/long-reads.ts';
import type { Store } from '../store/open-store.ts';
import { allRecordings, type StoredRecording } from '../store/recordings.ts';
import type { StoredDance } from '../store/rows.ts';
import { allDances } from '../store/state.ts';
import { trainRowOf } from '../study-dances.ts';
import { tableName } from '../study-detect.ts';
import type { DanceFinding, StudyFindings } from '../study-findings.ts';
import type { readGivenPlaces } from '../study-folder.ts';
import type { Dance } from '../study-schemas.ts';
import type { StudyView } from '../study-view.ts';
import { joinIds } from './id-lists.ts';
import type { ExportTables, RowOf } from './schemas.ts';

/** What the tables take from files beside the store. */
export interface GivenTables {
  readonly places: Awaited<ReturnType<typeof readGivenPlaces>>;
  readonly arrivals: readonly Arrival[];
}

type Recordings = ReadonlyMap<number, StoredRecording>;

/**
 * All tables of a study, rows in an order that depends on nothing but the study. The long ones are read from the
 * store, row by row, each time they are gone through.
 */
export function exportTables(
  view: StudyView,
  findings: StudyFindings,
  { places, arrivals }: GivenTables,
): ExportTables {
  const { store, settings } = view.study;
  const told = (time: string) => withOffset(time, settings.hive.timeZone);
  const recordings: Recordings = new Map(allRecordings(store).map((recording) => [recording.id, recording]));
  const ids = [...recordings.keys()];
  const day = dayOf(view, findings, arrivals);
  const calibrations = calibrationsEverSaved(store);
  return {
    recordings: recordingRows(recordings, addingTimes(store), told),
    trains: eachTime(() => soundRows(store, ids, 'trains', (sound) => trainRow(view, sound))),
    calls: eachTime(() => soundRows(store, ids, 'calls', (sound) => callRow(view, sound))),
    dances: eachTime(() => danceRows(view, findings)),
    estimates: findings.dances.flatMap(({ estimated }) => estimated?.row ?? []),
    bearings: findings.bearings?.rows ?? [],
    feeders: places.feeders.map((feeder) => ({
      feeder_id: feeder.feederId,
      distance_m: feeder.distanceM,
      bearing_deg: feeder.bearingDeg,
      latitude: feeder.latitude,
      longitude: feeder.longitude,
      paint_mark: feeder.paintMark,
    })),
    openings: places.openings.map(({ feederId, start, end }) => ({
      feeder_id: feederId,
      start: told(start),
      end: told(end),
    })),
    arrivals: arrivals.map(({ time, feederId, mark }) => ({ time, feeder_id: feederId, mark })),
    day_dances: day.dances,
    day_hours: day.hours,
    day_arrivals: day.arrivals,
    calibrations: calibrations.map(calibrationRow),
    calibration_parameters: calibrations.flatMap(({ id, record }) => parameterRows(id, record)),
    detections: detectionRows(store, recordings),
    detected_sounds: eachTime(() => detectedSoundRows(store)),
    pulses: eachTime(() => pulseRows(store)),
    events: eachTime(() => eventRows(store, recordings)),
  };
}

/** Rows that are made anew each time they are gone through. */
function eachTime<R>(rows: () => Iterable<R>): Iterable<R> {
  return { [Symbol.iterator]: () => rows()[Symbol.iterator]() };
}

function* soundRows<R>(
  store: Store,
  recordingIds: readonly number[],
  which: 'trains' | 'calls',
  rowOf: (sound: SignedSound) => R,
): Generator<R> {
  for (const id of recordingIds) {
    for (const sound of soundsOfRecording(store, id, which)) yield rowOf(sound);
  }
}

function detectionRows(store: Store, recordings: Recordings): RowOf<'detections'>[] {
  return allDetections(store).map((detection) => ({
    detection_id: detection.id,
    recording: tableName(recordings.get(detection.recordingId)!),
    recording_id: detection.recordingId,
    settings_hash: detection.settingsHash,
    settings: JSON.stringify(detection.settings),
    combtone_version: detection.combtoneVersion,
    made_at: detection.madeAt,
    ...detection.changes,
  }));
}

function* detectedSoundRows(store: Store): Generator<RowOf<'detected_sounds'>> {
  for (const sound of detectedSounds(store)) {
    yield {
      detection_id: sound.detectionId,
      sound_id: sound.soundId,
      kind: sound.kind,
      channel: sound.channel,
      start_s: sound.startS,
      end_s: sound.endS,
      carrier_hz: sound.carrierHz,
      snr_db: sound.snrDb,
      confidence: sound.confidence,
      pulse_count: sound.pulseCount,
    };
  }
}

function* pulseRows(store: Store): Generator<RowOf<'pulses'>> {
  for (const { detectionId, soundId, timesS } of detectedPulses(store)) {
    for (const [k, timeS] of timesS.entries()) {
      yield { detection_id: detectionId, sound_id: soundId, pulse: k + 1, time_s: timeS };
    }
  }
}

/** A dance, or what of it lies in one recording, with what was found of the whole. */
interface FoundPart {
  readonly part: Dance;
  readonly finding: DanceFinding;
}

/**
 * Dances by recording and start, those without a run last. Of a dance that goes on across recordings each part has its
 * row with its own runs, so that none counts twice; what the whole tells, such as its distance, is in the first's.
 */
function* danceRows(view: StudyView, findings: StudyFindings): Generator<RowOf<'dances'>> {
  const { store } = view.study;
  const found = new Map<string, FoundPart>();
  for (const finding of findings.dances)
    for (const part of finding.parts) found.set(part.id, { part, finding });
  const reviewers = danceReviewers(store);
  const start = ({ id }: StoredDance) => found.get(id)?.part.startS ?? Number.MAX_VALUE;
  const inOrder = allDances(store).sort(
    (a, b) => a.recordingId - b.recordingId || start(a) - start(b) || (a.id < b.id ? -1 : 1),
  );
  for (const dance of inOrder) {
    yield danceRow(view, dance, found.get(dance.id), reviewers.get(dance.id) ?? nobody);
  }
}

const nobody: Signature = { reviewer: null, reviewedAt: null };

function recordingRows(
  recordings: Recordings,
  addedAt: ReadonlyMap<number, string>,
  told: (time: string) => string,
): RowOf<'recordings'>[] {
  return [...recordings.values()].map((recording) => ({
    recording: tableName(recording),
    recording_id: recording.id,
    stem: recording.stem,
    path: recording.path,
    sha256: recording.sha256,
    byte_count: recording.byteCount,
    sample_rate_hz: recording.sampleRateHz,
    channel_count: recording.channelCount,
    duration_s: recording.durationS,
    start_time: recording.startTime === null ? null : told(recording.startTime),
    warnings: recording.warnings.length === 0 ? null : recording.warnings.join('\n'),
    added_at: addedAt.get(recording.id)!,
  }));
}

function originOf({ sound, reviewer, reviewedAt }: SignedSound) {
  return {
    recording_id: sound.recordingId,
    edited: sound.edited,
    detection_id: sound.detectionId,
    sources: joinIds(sound.sources),
    reviewer,
    reviewed_at: reviewedAt,
  };
}

function trainRow(view: StudyView, signed: SignedSound): RowOf<'trains'> {
  const { sound } = signed;
  const { recordingName, startTimeAt } = view.around(sound.recordingId);
  return Object.assign(trainRowOf(sound, recordingName, startTimeAt(sound.startS)), originOf(signed));
}

function callRow(view: StudyView, signed: SignedSound): RowOf<'calls'> {
  const { train_id, dance_id: _, ...row } = trainRow(view, signed);
  return { ...row, call_id: train_id, kind: signed.sound.kind as RowOf<'calls'>['kind'] };
}

function danceRow(
  view: StudyView,
  stored: StoredDance,
  found: FoundPart | undefined,
  by: Signature,
): RowOf<'dances'> {
  const dance = found?.part;
  const first = found?.finding.dance.id ?? stored.id;
  const finding = first === stored.id ? found?.finding : undefined;
  const estimate = finding?.estimated?.row;
  const place = finding?.place;
  const degrees = (value: number | undefined) => (value === undefined ? null : Number(value.toFixed(7)));
  return {
    recording: view.around(stored.recordingId).recordingName,
    channel: stored.channel,
    dance_id: stored.id,
    start_s: dance?.startS ?? null,
    end_s: dance?.endS ?? null,
    run_count: dance?.runCount ?? 0,
    used_runs: dance?.usedRuns ?? null,
    mean_duration_s: dance?.meanDurationS ?? null,
    sd_duration_s: dance?.sdDurationS ?? null,
    mean_return_s: dance?.meanReturnS ?? null,
    circuits_per_15s: dance?.circuitsPer15s ?? null,
    carrier_hz: dance?.carrierHz ?? null,
    bee_id: stored.beeId,
    feeder_id: dance?.feederId ?? stored.feederId,
    treatment: stored.treatment,
    comb_angle_deg: stored.combAngleDeg,
    distance_m: estimate?.distance_m ?? null,
    distance_low_m: estimate?.distance_low_m ?? null,
    distance_high_m: estimate?.distance_high_m ?? null,
    level: estimate?.level ?? null,
    in_range: estimate?.in_range ?? null,
    bearing_deg: finding?.bearing?.bearing_deg ?? null,
    latitude: degrees(place?.latitudeDeg),
    longitude: degrees(place?.longitudeDeg),
    recording_id: stored.recordingId,
    start_time: dance?.startTime ?? null,
    paint_mark: stored.paintMark,
    feeder_source: stored.feederSet ? 'reviewer' : (dance?.feederSource ?? null),
    feeder_distance_m: dance?.feederDistanceM ?? null,
    reviewed_runs: dance?.reviewedRuns ?? 0,
    bearing_low_deg: finding?.bearing?.bearing_low_deg ?? null,
    bearing_high_deg: finding?.bearing?.bearing_high_deg ?? null,
    flags: finding === undefined || finding.flags.length === 0 ? null : finding.flags.join('; '),
    note: stored.note,
    reviewer: by.reviewer,
    reviewed_at: by.reviewedAt,
    part_of: first === stored.id ? null : first,
  };
}

function calibrationRow(saved: StoreHistory['calibrations'][number]): RowOf<'calibrations'> {
  const { record } = saved;
  const counts = (record.duration ?? record.tempo)!.counts;
  return {
    calibration_id: saved.id,
    name: saved.name,
    at: saved.at,
    reviewer: saved.reviewer,
    combtone_version: record.combtoneVersion,
    curve: record.duration?.curve ?? null,
    tempo_curve: record.tempo?.curve ?? null,
    ...counts,
    nearest_feeder_m: (record.duration ?? record.tempo)!.nearestFeederM,
    farthest_feeder_m: (record.duration ?? record.tempo)!.farthestFeederM,
    dance_ids: joinIds(saved.danceIds),
    file: calibrationFile(saved.id),
  };
}

/** Name of the file that holds a saved calibration. */
export const calibrationFile = (id: number): string => `calibration-${id}.json`;

function parameterRows(id: number, record: CalibrationRecord): RowOf<'calibration_parameters'>[] {
  return (['duration', 'tempo'] as const).flatMap((measure) =>
    (record[measure]?.parameters ?? []).map(({ name, unit, value, standardError }) => ({
      calibration_id: id,
      measure,
      parameter: name,
      unit: unit || null,
      value,
      standard_error: standardError,
    })),
  );
}

function* eventRows(store: Store, recordings: Recordings): Generator<RowOf<'events'>> {
  for (const event of eventsWithChanges(store)) {
    const shared = {
      event_id: event.id,
      at: event.at,
      reviewer: event.reviewer,
      kind: event.kind,
      recording: event.recordingId === null ? null : tableName(recordings.get(event.recordingId)!),
      recording_id: event.recordingId,
      undo_of: event.undoOf,
    };
    const { before, after } = event.change;
    let written = 0;
    for (const table of ['sounds', 'dances'] as const) {
      for (const target of Object.keys(after[table])) {
        const [was, is] = [before[table][target] ?? null, after[table][target]!];
        written++;
        yield {
          ...shared,
          target_kind: table === 'sounds' ? 'sound' : 'dance',
          target,
          before: was === null ? null : JSON.stringify(was),
          after: is === null ? null : JSON.stringify(is),
        };
      }
    }
    if (written === 0) yield { ...shared, target_kind: null, target: null, before: null, after: null };
  }
}
