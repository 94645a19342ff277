import { createHash } from 'node:crypto';
import { basename } from 'node:path';
import { DEFAULT_SETTINGS, type DetectorSettings } from '../dance/settings.ts';
import { InputError } from '../input-error.ts';
import { type DetectAll, detectInTurn, type RecordingTask } from './detect-all.ts';
import type { RecordingDetection } from './detect-recording.ts';
import {
  currentDetection,
  type DetectedSound,
  type DetectionSummary,
  saveDetection,
} from './store/detections.ts';
import { allRecordings, type StoredRecording } from './store/recordings.ts';
import type { OpenStudy } from './study-folder.ts';
import { requireRecording } from './study-recordings.ts';
import { combtoneVersion } from './version.ts';

/** What of a detection's settings the call gives; the study gives the rest. */
export interface StudyDetectOptions {
  readonly band?: readonly [lowHz: number, highHz: number];
  readonly channels?: readonly number[];
  readonly leastConfidence?: number;
  /** Recordings to look at; default: all of the study. */
  readonly recordings?: readonly StoredRecording[];
  /** How recordings are searched; default: one after another. */
  readonly detectAll?: DetectAll;
  readonly signal?: AbortSignal;
  readonly onProgress?: (recording: StoredRecording, searchedS: number, durationS: number) => void;
  /** Told of each recording as soon as its findings are in the study. */
  readonly onDone?: (recording: StoredRecording, detection: DetectionSummary) => void;
}

/** All that the findings depend on beside the sound and the program's version. */
export interface SearchSettings extends DetectorSettings {
  /** Empty for all. */
  readonly channels: readonly number[];
}

/** The settings of a study, with those that the call gives in their place. */
export function searchSettings(study: OpenStudy, options: StudyDetectOptions): SearchSettings {
  const { band, channels } = study.settings;
  return {
    ...DEFAULT_SETTINGS,
    bandLowHz: options.band?.[0] ?? band.lowHz,
    bandHighHz: options.band?.[1] ?? band.highHz,
    ...(options.leastConfidence === undefined ? {} : { leastConfidence: options.leastConfidence }),
    channels: [...(options.channels ?? channels)].sort((a, b) => a - b),
  };
}

/** SHA-256 of settings, their members in the order of their names. */
export function settingsHash(settings: SearchSettings): string {
  const ordered = Object.entries(settings).sort(([a], [b]) => (a < b ? -1 : 1));
  return createHash('sha256').update(JSON.stringify(ordered)).digest('hex');
}

/** Whether the rows of a recording are of a detection with these settings by this program. */
export function isDetected(study: OpenStudy, recordingId: number, settings: SearchSettings): boolean {
  const current = currentDetection(study.store, recordingId);
  return current?.settingsHash === settingsHash(settings) && current.combtoneVersion === combtoneVersion;
}

/** Those of some recordings that are not done with these settings yet. */
export function dueRecordings(
  study: OpenStudy,
  recordings: readonly StoredRecording[],
  settings: SearchSettings,
): StoredRecording[] {
  return recordings.filter(({ id }) => !isDetected(study, id, settings));
}

/** What became of the recordings of a study that were to be searched. */
export interface StudyDetected {
  readonly done: readonly { readonly recording: StoredRecording; readonly detection: DetectionSummary }[];
  /** Recordings that had been done with these settings. */
  readonly already: number;
  /** Recordings that another call had done with these settings by the time they were searched. */
  readonly meanwhile: number;
  /** What was wrong with recordings that could not be found or read; the others are done all the same. */
  readonly failures: readonly Error[];
  /** Recordings not searched since the work was given up. */
  readonly left: number;
}

/**
 * Detects in every recording of a study whose rows are not of these settings yet. Each is in the study as soon as
 * it is done, in the order of recordings, so that a call cut short goes on where it was.
 *
 * @param options `signal` ends the work; what was done by then stays and is told
 */
export async function detectStudy(
  study: OpenStudy,
  options: StudyDetectOptions = {},
): Promise<StudyDetected> {
  const settings = searchSettings(study, options);
  const recordings = options.recordings ?? allRecordings(study.store);
  const due = dueRecordings(study, recordings, settings);
  const done: { recording: StoredRecording; detection: DetectionSummary }[] = [];
  let meanwhile = 0;
  const searched = await searchRecordings(study, due, settings, options, (recording, found) => {
    // Another call may have done the same meanwhile.
    if (isDetected(study, recording.id, settings)) {
      meanwhile++;
      return;
    }
    const detection = keepFindings(study, recording, found, settings);
    done.push({ recording, detection });
    options.onDone?.(recording, detection);
  });
  return { done, already: recordings.length - due.length, meanwhile, ...searched };
}

/**
 * Searches recordings of a study and hands on what was found in each, in their order.
 *
 * @returns what was wrong with recordings, and how many are left since the work was given up
 */
export async function searchRecordings(
  study: OpenStudy,
  recordings: readonly StoredRecording[],
  settings: SearchSettings,
  { detectAll = detectInTurn, onProgress, signal }: StudyDetectOptions,
  keep: (recording: StoredRecording, found: RecordingDetection) => void | Promise<void>,
): Promise<{ failures: readonly Error[]; left: number }> {
  const { tasks, failures } = await tasksOf(study, recordings, settings);
  const told =
    onProgress &&
    ((k: number, searchedS: number, durationS: number) =>
      onProgress(tasks[k]!.recording, searchedS, durationS));
  const how = { ...(told && { onProgress: told }), ...(signal && { signal }) };
  const outcomes = detectAll(
    tasks.map(({ task }) => task),
    how,
  );
  let next = 0;
  try {
    for await (const outcome of outcomes) {
      const { recording } = tasks[next]!;
      if (outcome.ok) await keep(recording, outcome.found);
      else failures.push(outcome.error);
      next++;
    }
  } catch (error) {
    if (!signal?.aborted) throw error;
  }
  return { failures, left: tasks.length - next };
}

interface StudyTask {
  readonly recording: StoredRecording;
  readonly task: RecordingTask;
}

/** What is to be searched, and the recordings that are nowhere to be found. */
async function tasksOf(
  study: OpenStudy,
  due: readonly StoredRecording[],
  settings: SearchSettings,
): Promise<{ tasks: StudyTask[]; failures: Error[] }> {
  const tasks: StudyTask[] = [];
  const failures: Error[] = [];
  for (const recording of due) {
    try {
      const path = await requireRecording(study, recording);
      const channels = settings.channels.filter((channel) => channel <= recording.channelCount);
      const startTime = recording.startTime === null ? {} : { startTime: recording.startTime };
      const { sha256 } = recording;
      tasks.push({ recording, task: { path, sha256, settings, channels, ...startTime } });
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      failures.push(error);
    }
  }
  return { tasks, failures };
}

/** Takes what was found in a recording with these settings into the study. */
export function keepFindings(
  { store }: OpenStudy,
  { id }: StoredRecording,
  found: RecordingDetection,
  settings: SearchSettings,
): DetectionSummary {
  return saveDetection(store, {
    recordingId: id,
    settingsHash: settingsHash(settings),
    settings,
    combtoneVersion,
    sounds: detectedSounds(found),
  });
}

/** Name of a recording in the tables: that of its file. */
export function tableName(recording: StoredRecording): string {
  return basename(recording.path);
}

function detectedSounds(found: RecordingDetection): DetectedSound[] {
  const dances = new Map<string, number>();
  const danceOf = (id: string | null): number | null => {
    if (id === null) return null;
    const number = dances.get(id) ?? dances.size;
    dances.set(id, number);
    return number;
  };
  const trains = found.trains.map(
    (train): DetectedSound => ({
      channel: train.channel,
      kind: 'train',
      startS: train.start_s,
      endS: train.end_s,
      dance: danceOf(train.dance_id),
      pulseRateHz: train.pulse_rate_hz,
      carrierHz: train.carrier_hz,
      snrDb: train.snr_db,
      confidence: train.confidence,
      pulseTimesS: found.pulseTimesS.get(train.train_id) ?? [],
    }),
  );
  const calls = found.calls.map(
    (call): DetectedSound => ({
      channel: call.channel,
      kind: call.kind,
      startS: call.start_s,
      endS: call.end_s,
      dance: null,
      pulseRateHz: null,
      carrierHz: call.carrier_hz,
      snrDb: call.snr_db,
      confidence: call.confidence,
      pulseTimesS: null,
    }),
  );
  return [...trains, ...calls];
}
