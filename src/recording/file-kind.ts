import { latinText } from './byte-source.ts';

/** Bytes of a file's beginning that `fileKind` wants to see. */
export const kindBytes = 16;

/**
 * What a file looks like from its first bytes: `WAVE`, or the name of another sound format, or null when
 * the beginning is not one it knows.
 */
export function fileKind(head: DataView): string | null {
  const start = latinText(head, 0, 4);
  const form = latinText(head, 8, 4);
  if (start === 'RIFF') return form === 'WAVE' ? 'WAVE' : form === 'AVI ' ? 'AVI video' : null;
  if (start === 'FORM' && form.startsWith('AIF')) return 'AIFF';
  if (latinText(head, 4, 4) === 'ftyp') return 'MPEG-4 (M4A)';
  if (start.startsWith('ID3') || isMpegFrame(head)) return 'MP3';
  return kindByStart.get(start) ?? null;
}

const kindByStart: ReadonlyMap<string, string> = new Map([
  ['fLaC', 'FLAC'],
  ['OggS', 'Ogg (Vorbis or Opus)'],
  ['RF64', 'RF64 (WAVE over 4 GiB)'],
  ['BW64', 'BW64 (WAVE over 4 GiB)'],
  ['riff', 'Wave64'],
  ['RIFX', 'RIFX (big-endian WAVE)'],
  ['caff', 'Core Audio (CAF)'],
  ['.snd', 'AU'],
  ['wvpk', 'WavPack'],
]);

/** MPEG audio frame sync: eleven set bits, then a version and a layer that are not the reserved ones. */
function isMpegFrame(head: DataView): boolean {
  if (head.byteLength < 3 || head.getUint8(0) !== 0xff) return false;
  const second = head.getUint8(1);
  const version = (second >> 3) & 3;
  const layer = (second >> 1) & 3;
  const bitRate = head.getUint8(2) >> 4;
  return second >> 5 === 7 && version !== 1 && layer !== 0 && bitRate !== 15;
}
