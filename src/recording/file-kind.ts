import { latinText } from './byte-source.ts';
import { isWave64 } from './wave64.ts';

/** Bytes of a file's beginning that `fileKind` wants to see. */
export const kindBytes = 40;

/** The formats that are read. */
export type SoundFormat = 'WAVE' | 'RF64' | 'BW64' | 'Wave64' | 'AIFF' | 'FLAC' | 'Ogg Vorbis' | 'MP3';

const readFormats: ReadonlySet<string> = new Set<SoundFormat>([
  'WAVE',
  'RF64',
  'BW64',
  'Wave64',
  'AIFF',
  'FLAC',
  'Ogg Vorbis',
  'MP3',
]);

/** Whether files of a kind are read here. */
export function isReadFormat(kind: string | null): kind is SoundFormat {
  return kind !== null && readFormats.has(kind);
}

/**
 * What a file is from its first bytes: a format that is read, or the name of another sound format, or null when
 * the beginning is not one it knows.
 */
export function fileKind(head: DataView): string | null {
  const start = latinText(head, 0, 4);
  const form = latinText(head, 8, 4);
  if (start === 'RIFF') return form === 'WAVE' ? 'WAVE' : form === 'AVI ' ? 'AVI video' : null;
  if (start === 'RF64' || start === 'BW64') return form === 'WAVE' ? start : null;
  if (start === 'riff') return isWave64(head) ? 'Wave64' : null;
  if (start === 'FORM') return form === 'AIFF' || form === 'AIFC' ? 'AIFF' : null;
  if (start === 'OggS') return oggKind(head);
  if (latinText(head, 4, 4) === 'ftyp') return 'MPEG-4 (M4A)';
  if (start.startsWith('ID3')) return 'MP3';
  return kindByStart.get(start) ?? mpegKind(head);
}

/** The first packet of an Ogg file begins behind the page's 27 bytes and its one segment length. */
function oggKind(head: DataView): string {
  const packet = latinText(head, 28, 8);
  if (packet.startsWith('\x01vorbis')) return 'Ogg Vorbis';
  return packet.startsWith('OpusHead') ? 'Ogg Opus' : 'an Ogg file without Vorbis sound';
}

const kindByStart: ReadonlyMap<string, string> = new Map([
  ['fLaC', 'FLAC'],
  ['RIFX', 'RIFX (big-endian WAVE)'],
  ['caff', 'Core Audio (CAF)'],
  ['.snd', 'AU'],
  ['wvpk', 'WavPack'],
]);

/** MPEG audio frame sync: eleven set bits, then a version, layer, bit rate and sample rate that are not reserved. */
function mpegKind(head: DataView): string | null {
  if (head.byteLength < 3 || head.getUint8(0) !== 0xff) return null;
  const second = head.getUint8(1);
  const layer = (second >> 1) & 3;
  const third = head.getUint8(2);
  const isFrame =
    second >> 5 === 7 &&
    ((second >> 3) & 3) !== 1 &&
    layer !== 0 &&
    third >> 4 !== 15 &&
    ((third >> 2) & 3) !== 3;
  if (!isFrame) return null;
  return layer === 1 ? 'MP3' : `MPEG audio of layer ${4 - layer}`;
}
