import { oneLine } from '../input-error.ts';
import { counted } from './counted.ts';
import { type Session, sessionNotes } from './sessions.ts';
import type { DetectionSummary } from './store/detections.ts';
import type { StoredRecording } from './store/recordings.ts';
import { textTable } from './text-table.ts';
import { unknownFeedersWords } from './unknown-feeders.ts';

/** What `combtone study status` tells. */
export interface StudyStatus {
  readonly name: string;
  readonly feeders: number;
  readonly openings: number;
  readonly recordings: readonly {
    readonly path: string;
    readonly present: boolean;
    readonly durationS: number;
    readonly startTime: string | null;
    readonly detection: { readonly madeAt: string } | null;
    readonly progress: { readonly sounds: number; readonly reviewed: number; readonly dances: number };
  }[];
  /** Recordings joined on the clock. */
  readonly sessions: readonly Session[];
  readonly conflicts: readonly string[];
  /** Feeders that dances name and feeders.csv does not have. */
  readonly unknownFeeders: readonly string[];
}

/** The state of a study, for people to read. */
export function studyText(status: StudyStatus): string {
  const { name, feeders, openings, recordings, sessions, conflicts, unknownFeeders } = status;
  const head = `Study ${name}: ${counted(recordings.length, 'recording')}, ${counted(feeders, 'feeder')}, ${counted(openings, 'opening')}`;
  if (recordings.length === 0) return `${head}\nNext: combtone study add DIR REC...`;
  const rows = recordings.map(({ path, present, durationS, startTime, detection, progress }) => [
    path,
    present ? 'yes' : 'MISSING',
    (durationS / 60).toFixed(1),
    startTime ?? 'unknown',
    detection === null ? 'not yet' : detection.madeAt.slice(0, 10),
    String(progress.dances),
    String(progress.sounds),
    String(progress.reviewed),
  ]);
  const header = ['recording', 'there', 'minutes', 'start', 'detected', 'dances', 'sounds', 'reviewed'];
  const flagged =
    conflicts.length === 0
      ? ''
      : `\n\nSeveral feeders were open; the reviewer decides for: ${conflicts.join(', ')}`;
  const unknown = oneLine(unknownFeedersWords(unknownFeeders));
  const notes = sessionNotes(sessions).map((note) => `\n${oneLine(note)}`);
  const joined = notes.length === 0 ? '' : `\n${notes.join('')}`;
  return `${head}\n\n${textTable([header, ...rows])}${joined}${flagged}${unknown === '' ? '' : `\n\n${unknown}`}`;
}

/** What detections changed in a study, for people to read. */
export function studyDetectionText(
  done: readonly { readonly recording: StoredRecording; readonly detection: DetectionSummary }[],
  already: number,
  meanwhile = 0,
): string {
  const others =
    meanwhile === 0
      ? ''
      : `; ${meanwhile} ${meanwhile === 1 ? 'was' : 'were'} done by another call meanwhile, and kept`;
  const head = `${counted(done.length, 'recording')} detected, ${already} had been before, with these settings${others}`;
  if (done.length === 0) return head;
  const rows = done.map(({ recording, detection: { changes } }) => [
    recording.path,
    ...[changes.new, changes.same, changes.gone, changes.kept].map(String),
  ]);
  return `${head}\n\n${textTable([['recording', 'new sounds', 'found again', 'no longer found', 'reviewed, kept'], ...rows])}`;
}
