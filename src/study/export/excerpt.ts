import { existsSync, realpathSync } from 'node:fs';
import { extname, join } from 'node:path';
import { InputError } from '../../input-error.ts';
import { type WaveMark, writeExcerpt } from '../../recording/index.ts';
import { soundsOfRecording } from '../store/long-reads.ts';
import { allRecordings, type StoredRecording } from '../store/recordings.ts';
import { tableName } from '../study-detect.ts';
import type { OpenStudy } from '../study-folder.ts';
import { requireRecording } from '../study-recordings.ts';
import { zonedClockFrom } from '../zoned-clock.ts';
import { labelOf } from './webvtt.ts';

/** A stretch of a recording, s from its start. */
export interface Span {
  readonly startS: number;
  readonly endS: number;
}

export interface WrittenExcerpt {
  readonly recording: StoredRecording;
  readonly marks: number;
  /** Clock time of the excerpt's start; null where that of the recording is not known. */
  readonly startTime: string | null;
}

/**
 * Writes a stretch of a recording of the study as a WAVE file of its own, with every train and call in it that is not
 * rejected marked and labelled. A start at a whole second of the clock is written too; the chunk for it holds no
 * finer.
 *
 * @param name file name, stem or path of the recording; undefined where the study has but one
 * @throws InputError for a recording that the study has not or that is not there, and a stretch outside it
 */
export async function exportExcerpt(
  study: OpenStudy,
  name: string | undefined,
  { startS, endS }: Span,
  to: string,
): Promise<WrittenExcerpt> {
  const recording = recordingNamed(study, name);
  const { sampleRateHz, durationS } = recording;
  if (endS > durationS + 0.5 / sampleRateHz) {
    throw new InputError({
      file: '--excerpt',
      found: `${startS}-${endS}`,
      wanted: `a stretch within the ${durationS.toFixed(3)} s of ${recording.path}`,
    });
  }
  const from = await requireRecording(study, recording);
  const isKept = isRecording(study, from, to);
  if (extname(to).toLowerCase() !== '.wav' || isKept) {
    throw new InputError({
      file: to,
      found: isKept ? 'a recording of the study, for an excerpt' : 'a place for an excerpt',
      wanted: 'a new file that ends in .wav',
    });
  }
  const frameAt = (timeS: number) => Math.round(timeS * sampleRateHz);
  const [startFrame, endFrame] = [
    frameAt(startS),
    Math.min(frameAt(endS), Math.round(durationS * sampleRateHz)),
  ];
  const marks = marksWithin(study, recording, startFrame, endFrame);
  const startTime = zonedClockFrom(
    recording.startTime,
    study.settings.hive.timeZone,
  )(startFrame / sampleRateHz);
  const wholeSecond =
    startTime !== null && startTime.slice(19, 23) === '.000' ? startTime.slice(0, 19) : null;
  await writeExcerpt(from, to, { startFrame, endFrame, marks, startTime: wholeSecond });
  return { recording, marks: marks.length, startTime };
}

/** Whether a file is a recording of the study, by whatever name: none is to be written over. */
function isRecording({ folder, store }: OpenStudy, from: string, file: string): boolean {
  if (!existsSync(file)) return false;
  const real = realpathSync(file);
  const recordings = [from, ...allRecordings(store).map(({ path }) => join(folder, path))];
  return recordings.some((known) => existsSync(known) && realpathSync(known) === real);
}

function recordingNamed({ store }: OpenStudy, name: string | undefined): StoredRecording {
  const all = allRecordings(store);
  const listed = all.slice(0, 8).map(({ path }) => path);
  const wanted = `one of: ${listed.join(', ')}${all.length > listed.length ? ', …' : ''}`;
  const fits = all.filter(
    (recording) =>
      name === undefined || [recording.path, recording.stem, tableName(recording)].includes(name),
  );
  if (fits.length === 1) return fits[0]!;
  const found =
    all.length === 0
      ? 'a study without recordings'
      : name === undefined
        ? `${all.length} recordings`
        : fits.length === 0
          ? JSON.stringify(name)
          : `${JSON.stringify(name)}, the name of ${fits.length} recordings`;
  throw new InputError({ file: '--recording', found, wanted: all.length === 0 ? 'a recording' : wanted });
}

/** Marks of the sounds that lie at least in part within the stretch, cut at its ends. */
function marksWithin(
  { store }: OpenStudy,
  recording: StoredRecording,
  startFrame: number,
  endFrame: number,
): WaveMark[] {
  return [...soundsOfRecording(store, recording.id, 'all')]
    .map(({ sound }) => sound)
    .filter(({ status }) => status !== 'rejected')
    .flatMap((sound): WaveMark[] => {
      const from = Math.max(startFrame, Math.round(sound.startS * recording.sampleRateHz));
      const to = Math.min(endFrame, Math.round(sound.endS * recording.sampleRateHz));
      if (to <= from) return [];
      return [
        { startFrame: from - startFrame, frameCount: to - from, label: `${sound.id}: ${labelOf(sound)}` },
      ];
    });
}
