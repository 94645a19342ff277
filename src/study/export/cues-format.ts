import { sep } from 'node:path';
import { type SignedSound, soundsOfRecording } from '../store/long-reads.ts';
import { allRecordings } from '../store/recordings.ts';
import type { StoredSound } from '../store/rows.ts';
import type { ExportFormat } from './export-format.ts';
import { webVttParts } from './webvtt.ts';

/** WebVTT cues of each recording, in a folder of their own. */
export const cuesFormat: ExportFormat = function* ({ view: { study } }) {
  for (const recording of allRecordings(study.store)) {
    const sounds = soundsOfRecording(study.store, recording.id, 'all');
    yield [`cues/${fileName(recording.stem)}.vtt`, webVttParts(recording, unsigned(sounds))];
  }
};

function* unsigned(sounds: Iterable<SignedSound>): Generator<StoredSound> {
  for (const { sound } of sounds) yield sound;
}

/** A stem as a file's name: a study from elsewhere may hold one that would lead out of the folder. */
function fileName(stem: string): string {
  return stem.replaceAll(/[/\0]/g, '_').replaceAll(sep, '_').replace(/^\.+$/, '_');
}
