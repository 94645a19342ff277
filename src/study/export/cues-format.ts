import { sep } from 'node:path';
import { allRecordings } from '../store/recordings.ts';
import { stateNow } from '../store/state.ts';
import type { ExportFormat } from './export-format.ts';
import { webVtt } from './webvtt.ts';

/** WebVTT cues of each recording, in a folder of their own. */
export const cuesFormat: ExportFormat = ({ view: { study } }) => {
  const sounds = [...stateNow(study.store).sounds.values()];
  return allRecordings(study.store).map((recording) => {
    const own = sounds
      .filter(({ recordingId }) => recordingId === recording.id)
      .sort((a, b) => a.startS - b.startS || (a.id < b.id ? -1 : 1));
    return [`cues/${fileName(recording.stem)}.vtt`, webVtt(recording, own)] as const;
  });
};

/** A stem as a file's name: a study from elsewhere may hold one that would lead out of the folder. */
function fileName(stem: string): string {
  return stem.replaceAll(/[/\0]/g, '_').replaceAll(sep, '_').replace(/^\.+$/, '_');
}
