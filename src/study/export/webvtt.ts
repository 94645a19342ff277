import type { StoredRecording } from '../store/recordings.ts';
import type { StoredSound } from '../store/rows.ts';

/**
 * Cues of a recording's sounds, rejected ones left out: W3C WebVTT, one cue for each train and call, its id the
 * sound's, times from the recording's start.
 */
export function* webVttParts(recording: StoredRecording, sounds: Iterable<StoredSound>): Generator<string> {
  yield `WEBVTT\n\nNOTE\n${cueText(`combtone: ${recording.path}`)}\n\n`;
  let between = '';
  for (const sound of sounds) {
    if (sound.status === 'rejected') continue;
    const startMs = Math.round(1000 * sound.startS);
    // A cue must end after it starts.
    const endMs = Math.max(startMs + 1, Math.round(1000 * sound.endS));
    const times = `${cueTime(startMs)} --> ${cueTime(endMs)}`;
    yield `${between}${cueText(sound.id)}\n${times}\n${cueText(labelOf(sound))}\n`;
    between = '\n';
  }
}

/** What a cue or label says of a sound, one line. */
export function labelOf({ kind, danceId, startS, endS, carrierHz, channel, status }: StoredSound): string {
  return [
    kind === 'train' ? 'waggle run' : kind,
    danceId,
    `${(endS - startS).toFixed(3)} s`,
    carrierHz === null ? null : `${carrierHz.toFixed(0)} Hz`,
    `channel ${channel}`,
    status,
  ]
    .filter((part) => part !== null)
    .join(', ');
}

// In cue text & and < begin something else, and an arrow would be taken for timings.
const cueText = (text: string): string =>
  text
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll(/[\r\n]+/g, ' ');

/** hh:mm:ss.ttt; hours may have more than two digits. */
function cueTime(ms: number): string {
  const two = (value: number) => String(value).padStart(2, '0');
  const [hours, minutes, seconds] = [
    Math.floor(ms / 3_600_000),
    Math.floor(ms / 60_000) % 60,
    Math.floor(ms / 1000) % 60,
  ];
  return `${two(hours)}:${two(minutes)}:${two(seconds)}.${String(ms % 1000).padStart(3, '0')}`;
}
