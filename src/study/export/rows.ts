import type { CalibrationRecord } from '../calibration-record.ts';
import { studyArrivals } from '../day/arrivals.ts';
import { studyDay } from '../day/study-day.ts';
import { type StoreHistory, storeHistory } from '../store/history.ts';
import { allRecordings, type StoredRecording } from '../store/recordings.ts';
import type { StoredDance, StoredSound } from '../store/rows.ts';
import { stateNow } from '../store/state.ts';
import { trainRowOf } from '../study-dances.ts';
import { tableName } from '../study-detect.ts';
import type { DanceFinding, StudyFindings } from '../study-findings.ts';
import { readGivenPlaces } from '../study-folder.ts';
import type { StudyView } from '../study-view.ts';
import { joinIds } from './id-lists.ts';
import type { ExportTables, RowOf } from './schemas.ts';

/** All tables of a study, rows in an order that depends on nothing but the study. */
export async function exportTables(view: StudyView, findings: StudyFindings): Promise<ExportTables> {
  const { study } = view;
  const { store } = study;
  const places = await readGivenPlaces(study);
  const recordings = new Map(allRecordings(store).map((recording) => [recording.id, recording]));
  const state = stateNow(store);
  const day = await studyDay(view, findings);
  const history = storeHistory(store);
  const by = reviewers(history);
  const sounds = [...state.sounds.values()].sort(inTime);
  const found = new Map(findings.dances.map((finding) => [finding.dance.id, finding]));
  const arrivals = await studyArrivals(
    study,
    places.feeders.map(({ feederId }) => feederId),
  );
  return {
    recordings: recordingRows(recordings, history),
    trains: sounds.filter(({ kind }) => kind === 'train').map((sound) => trainRow(view, sound, by)),
    calls: sounds.filter(({ kind }) => kind !== 'train').map((sound) => callRow(view, sound, by)),
    dances: [...state.dances.values()]
      .map((dance) => danceRow(view, dance, found.get(dance.id), by))
      .sort(byPlace),
    estimates: findings.dances.flatMap(({ estimated }) => estimated?.row ?? []),
    bearings: [...(findings.bearings?.rows ?? [])],
    feeders: places.feeders.map((feeder) => ({
      feeder_id: feeder.feederId,
      distance_m: feeder.distanceM,
      bearing_deg: feeder.bearingDeg,
      latitude: feeder.latitude,
      longitude: feeder.longitude,
      paint_mark: feeder.paintMark,
    })),
    openings: places.openings.map(({ feederId, start, end }) => ({ feeder_id: feederId, start, end })),
    arrivals: arrivals.map(({ time, feederId, mark }) => ({ time, feeder_id: feederId, mark })),
    day_dances: day.dances,
    day_hours: day.hours,
    day_arrivals: day.arrivals,
    calibrations: history.calibrations.map(calibrationRow),
    calibration_parameters: history.calibrations.flatMap(({ id, record }) => parameterRows(id, record)),
    detections: detectionRows(history, recordings),
    detected_sounds: detectedSoundRows(history),
    pulses: pulseRows(history),
    events: eventRows(history, recordings),
  };
}

function detectionRows(
  { detections }: StoreHistory,
  recordings: ReadonlyMap<number, StoredRecording>,
): RowOf<'detections'>[] {
  return detections.map((detection) => ({
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

function detectedSoundRows({ detectedSounds }: StoreHistory): RowOf<'detected_sounds'>[] {
  return detectedSounds.map((sound) => ({
    detection_id: sound.detectionId,
    sound_id: sound.soundId,
    kind: sound.kind,
    channel: sound.channel,
    start_s: sound.startS,
    end_s: sound.endS,
    carrier_hz: sound.carrierHz,
    snr_db: sound.snrDb,
    confidence: sound.confidence,
    pulse_count: sound.pulseTimesS?.length ?? null,
  }));
}

function pulseRows({ detectedSounds }: StoreHistory): RowOf<'pulses'>[] {
  return detectedSounds.flatMap(({ detectionId, soundId, pulseTimesS }) =>
    (pulseTimesS ?? []).map((timeS, k) => ({
      detection_id: detectionId,
      sound_id: soundId,
      pulse: k + 1,
      time_s: timeS,
    })),
  );
}

function inTime(a: StoredSound, b: StoredSound): number {
  return a.recordingId - b.recordingId || a.startS - b.startS || (a.id < b.id ? -1 : 1);
}

function byPlace(a: RowOf<'dances'>, b: RowOf<'dances'>): number {
  const start = (row: RowOf<'dances'>) => row.start_s ?? Number.MAX_VALUE;
  return a.recording_id - b.recording_id || start(a) - start(b) || (a.dance_id < b.dance_id ? -1 : 1);
}

/** Who wrote a row last, by its version; nobody where the detector or an import did. */
type Reviewers = (version: number) => {
  readonly reviewer: string | null;
  readonly reviewed_at: string | null;
};

function reviewers({ events }: StoreHistory): Reviewers {
  const own = new Map(
    events.filter(({ kind }) => kind !== 'detect' && kind !== 'import').map((event) => [event.id, event]),
  );
  return (version) => {
    const event = own.get(version);
    return { reviewer: event?.reviewer ?? null, reviewed_at: event?.at ?? null };
  };
}

function recordingRows(
  recordings: ReadonlyMap<number, StoredRecording>,
  { addedAt }: StoreHistory,
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
    start_time: recording.startTime,
    warnings: recording.warnings.length === 0 ? null : recording.warnings.join('\n'),
    added_at: addedAt.get(recording.id)!,
  }));
}

function originOf(sound: StoredSound, by: Reviewers) {
  return {
    recording_id: sound.recordingId,
    edited: sound.edited,
    detection_id: sound.detectionId,
    sources: joinIds(sound.sources),
    ...by(sound.version),
  };
}

function trainRow(view: StudyView, sound: StoredSound, by: Reviewers): RowOf<'trains'> {
  const { recordingName, startTimeAt } = view.around(sound.recordingId);
  const { also_channels: _, ...row } = trainRowOf(sound, recordingName, startTimeAt(sound.startS));
  return { ...row, ...originOf(sound, by) };
}

function callRow(view: StudyView, sound: StoredSound, by: Reviewers): RowOf<'calls'> {
  const { train_id, dance_id: _, ...row } = trainRow(view, sound, by);
  return { ...row, call_id: train_id, kind: sound.kind as RowOf<'calls'>['kind'] };
}

function danceRow(
  view: StudyView,
  stored: StoredDance,
  finding: DanceFinding | undefined,
  by: Reviewers,
): RowOf<'dances'> {
  const dance = finding?.dance;
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
    ...by(stored.version),
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

function eventRows(
  { events }: StoreHistory,
  recordings: ReadonlyMap<number, StoredRecording>,
): RowOf<'events'>[] {
  return events.flatMap((event) => {
    const shared = {
      event_id: event.id,
      at: event.at,
      reviewer: event.reviewer,
      kind: event.kind,
      recording: event.recordingId === null ? null : tableName(recordings.get(event.recordingId)!),
      recording_id: event.recordingId,
      undo_of: event.undoOf,
    };
    const written = (['sounds', 'dances'] as const).flatMap((table) =>
      Object.entries(event.change.after[table]).map(([target, after]): RowOf<'events'> => {
        const before = event.change.before[table][target] ?? null;
        return {
          ...shared,
          target_kind: table === 'sounds' ? 'sound' : 'dance',
          target,
          before: before === null ? null : JSON.stringify(before),
          after: after === null ? null : JSON.stringify(after),
        };
      }),
    );
    const none = { ...shared, target_kind: null, target: null, before: null, after: null };
    return written.length === 0 ? [none] : written;
  });
}
