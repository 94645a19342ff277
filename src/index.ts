/**
 * The library's face, for those who script: everything else in `dist` may change without notice. Tables go in
 * and out as rows with the columns of the CSV files (docs/data-dictionary.md), distances in metres, times in
 * seconds, angles in degrees. What a call was given wrong is an `InputError`.
 */
import type { DistancePrior } from './calibration/distance-posterior.ts';
import { DEFAULT_SETTINGS, type DetectorSettings, isSearchable, searchableBands } from './dance/settings.ts';
import { InputError } from './input-error.ts';
import { type CalibrationSettings, calibrateObservations } from './study/calibrate-observations.ts';
import type { CalibrationRecord } from './study/calibration-record.ts';
import { detectRecording, type RecordingDetection } from './study/detect-recording.ts';
import { detectInSamples, type Sound } from './study/detect-samples.ts';
import type { DetectionTables } from './study/detection-tables.ts';
import { estimateRows } from './study/estimates.ts';
import { observationsOfRows, type RunRow } from './study/observations.ts';
import type { EstimateRow } from './study/tables.ts';

export type { CombPosture } from './bearing/comb-angle.ts';
export { distanceAndBearing, goalOf, type Point } from './bearing/geodesy.ts';
export { type Site, type SunPosition, sunPosition } from './bearing/sun.ts';
export type { DistancePrior } from './calibration/distance-posterior.ts';
export type { RunChoice } from './calibration/runs.ts';
export { InputError } from './input-error.ts';
export {
  type BlockOptions,
  type OpenOptions,
  openRecording,
  type Recording,
  type RecordingInfo,
} from './recording/index.ts';
export type { CalibrationSettings } from './study/calibrate-observations.ts';
export { type CalibrationRecord, readCalibration, writeCalibration } from './study/calibration-record.ts';
export {
  bearingOfDance,
  type DanceBearing,
  type DanceBearingOptions,
  type RunAngle,
} from './study/dance-direction.ts';
export type { ChannelHealth, RecordingDetection } from './study/detect-recording.ts';
export type { Sound } from './study/detect-samples.ts';
export type { DetectionTables } from './study/detection-tables.ts';
export { type Observations, type RunRow, readObservations } from './study/observations.ts';
export { type DanceNote, observationsOfDances } from './study/observations-of-dances.ts';
export type { CallRow, DanceRow, EstimateRow, ObservationRow, TrainRow } from './study/tables.ts';
export { combtoneVersion } from './study/version.ts';

/** What a search for waggle runs and calls depends on beside the sound. */
export interface DetectOptions {
  /** Carriers of dance sound are looked for between these, Hz; default 200 to 400. */
  readonly bandHz?: readonly [lowHz: number, highHz: number];
  /** Runs judged less likely real than this are left out, 0 to 1; default 0.5. */
  readonly leastConfidence?: number;
  /** Clock time of the start, ISO 8601; of a file, where neither it nor its name tells. */
  readonly startTime?: string;
  /** Gives up when aborted, with the signal's reason. */
  readonly signal?: AbortSignal;
}

/** What a search in a file depends on, and who is told of its progress. */
export interface DetectFileOptions extends DetectOptions {
  /** Channels to search, from 1; default all. */
  readonly channels?: readonly number[];
  /** Told now and then how much of all channels has been searched, and how long the recording is. */
  readonly onProgress?: (searchedS: number, durationS: number) => void;
}

/**
 * Finds waggle runs and calls in a sound file, and gathers the runs into dances. Memory does not grow with the
 * file. The rows are those that `combtone detect` writes.
 *
 * @throws InputError for a file that cannot be read, has no such channel, holds digital silence alone, or has a
 * sample rate under 1500 Hz
 */
export async function detect(path: string, options: DetectFileOptions = {}): Promise<RecordingDetection> {
  const { channels = [], startTime, onProgress, signal } = options;
  return detectRecording(path, {
    settings: settingsOf(options),
    channels,
    ...(startTime === undefined ? {} : { startTime }),
    ...(onProgress === undefined ? {} : { onProgress }),
    ...(signal === undefined ? {} : { signal }),
  });
}

/**
 * Finds in samples that are in memory what `detect` finds in a file.
 *
 * @param recording name of the sound in the rows and in their ids
 * @throws InputError for channels of different lengths, samples that are no numbers, a rate under 1500 Hz
 */
export async function detectSamples(
  sound: Sound,
  options: DetectOptions & { readonly recording?: string } = {},
): Promise<DetectionTables> {
  const { recording = 'samples', startTime, signal } = options;
  return detectInSamples(sound, settingsOf(options), recording, {
    ...(startTime === undefined ? {} : { startTime }),
    ...(signal === undefined ? {} : { signal }),
  });
}

function settingsOf({ bandHz, leastConfidence }: DetectOptions): DetectorSettings {
  if (bandHz !== undefined && !isSearchable(bandHz)) {
    throw new InputError({ file: 'bandHz', found: bandHz.join(' to '), wanted: searchableBands });
  }
  if (leastConfidence !== undefined && !(leastConfidence >= 0 && leastConfidence <= 1)) {
    const found = String(leastConfidence);
    throw new InputError({ file: 'leastConfidence', found, wanted: 'a number from 0 to 1' });
  }
  return {
    ...DEFAULT_SETTINGS,
    ...(bandHz === undefined ? {} : { bandLowHz: bandHz[0], bandHighHz: bandHz[1] }),
    ...(leastConfidence === undefined ? {} : { leastConfidence }),
  };
}

/**
 * Fits this colony's curves of run duration and dance tempo on distance, whichever the runs have. Settings that are
 * left out are those of `combtone calibrate`.
 *
 * @param runs one per run to a feeder at a known distance, the runs of a dance in the order danced
 * @returns what `combtone calibrate` writes to calibration.json
 * @throws InputError for runs that cannot be calibrated on, naming the row, counted from 1, where there is one
 */
export function calibrate(
  runs: readonly RunRow[],
  settings: Partial<CalibrationSettings> = {},
): CalibrationRecord {
  const observations = observationsOfRows(runs, 'calibrating');
  return calibrateObservations(observations, { curve: 'auto', runs: 'inner', ...settings });
}

/** How distances are estimated. */
export interface EstimateOptions {
  /** Probability of the intervals, between 0 and 1; default 0.95. */
  readonly level?: number;
  /** Distances thought of, all as likely before a dance is read; default 0 to 12 000 m. */
  readonly prior?: DistancePrior;
}

/**
 * Distances, with intervals, of dances to unknown places.
 *
 * @param runs one per run, the runs of a dance in the order danced
 * @returns one row per dance, in the order of their first runs
 * @throws InputError for a cell that is no number or cannot be, and a level that is not between 0 and 1
 */
export function estimate(
  calibration: CalibrationRecord,
  runs: readonly RunRow[],
  { level = 0.95, prior }: EstimateOptions = {},
): EstimateRow[] {
  if (!(level > 0 && level < 1)) {
    throw new InputError({ file: 'level', found: String(level), wanted: 'a probability between 0 and 1' });
  }
  const { dances } = observationsOfRows(runs, 'estimating');
  return estimateRows(calibration, dances, level, prior === undefined ? {} : { prior });
}
