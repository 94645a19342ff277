import { statSync } from 'node:fs';
import { join } from 'node:path';
import { withOffset } from '../bearing/local-time.ts';
import { savedCalibrations } from './store/calibrations.ts';
import { currentDetection } from './store/detections.ts';
import { lastEventId } from './store/events.ts';
import { countsByBin, knownValues, progressOf } from './store/queries.ts';
import { allRecordings, recordingsStamp, type StoredRecording } from './store/recordings.ts';
import type { OpenStudy } from './study-folder.ts';
import type { StudyView } from './study-view.ts';
import { combtoneVersion } from './version.ts';

/** A recording of the study, whether its file is there, what was detected in it and how far its review is. */
function summariseRecording({ folder, store, settings }: OpenStudy, recording: StoredRecording) {
  const { id, path, sha256, byteCount, sampleRateHz, channelCount, durationS, startTime, warnings } =
    recording;
  const detection = currentDetection(store, id);
  return {
    id,
    path,
    sha256,
    present: isThere(join(folder, path), byteCount),
    sampleRateHz,
    channelCount,
    durationS,
    startTime: startTime === null ? null : withOffset(startTime, settings.hive.timeZone),
    warnings: [...warnings],
    detection: detection && {
      id: detection.id,
      madeAt: detection.madeAt,
      combtoneVersion: detection.combtoneVersion,
      settings: detection.settings,
    },
    progress: progressOf(store, id),
  };
}

function isThere(path: string, byteCount: number): boolean {
  try {
    const status = statSync(path);
    return status.isFile() && status.size === byteCount;
  } catch {
    return false;
  }
}

/** Every recording of a study with what was found in it, in the order in which they were added. */
export function listRecordings(study: OpenStudy) {
  return allRecordings(study.store).map((recording) => summariseRecording(study, recording));
}

/** All that a page must know before it asks for windows. */
export function summariseStudy({ study, places }: StudyView, readOnly: boolean) {
  const { store, settings } = study;
  return {
    combtoneVersion,
    readOnly,
    settings,
    feeders: [...places.feeders],
    openings: [...places.openings],
    recordingsStamp: recordingsStamp(store),
    recordings: listRecordings(study),
    calibrations: savedCalibrations(store),
    progress: progressOf(store),
    known: {
      beeIds: knownValues(store, 'bee_id'),
      paintMarks: knownValues(store, 'paint_mark'),
      treatments: knownValues(store, 'treatment'),
    },
    lastEventId: lastEventId(store),
  };
}

const BIN_S = 60;
/** As long as the longest window that can be asked for. */
const MOST_BINS = 10_000_000 / BIN_S;

/** The day ribbon of one channel: one value for each minute, a sound counted where it starts. */
export function ribbonOf({ store }: OpenStudy, recording: StoredRecording, channel: number) {
  const { id, durationS, startTime } = recording;
  const empty = () =>
    new Array<number>(Math.max(1, Math.min(MOST_BINS, Math.ceil(durationS / BIN_S)))).fill(0);
  const ribbon = {
    runS: empty(),
    runs: empty(),
    calls: empty(),
    sounds: empty(),
    reviewed: empty(),
  };
  for (const { minute, ...counts } of countsByBin(store, id, channel, BIN_S)) {
    if (minute >= ribbon.runS.length) continue;
    ribbon.runS[minute] = Math.round(100 * counts.runS) / 100;
    ribbon.runs[minute] = counts.runs;
    ribbon.calls[minute] = counts.calls;
    ribbon.sounds[minute] = counts.sounds;
    ribbon.reviewed[minute] = counts.reviewed;
  }
  return { recordingId: id, durationS, startTime, binS: BIN_S, ...ribbon };
}
