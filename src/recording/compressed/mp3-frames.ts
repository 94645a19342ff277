import type { ByteSource } from '../byte-source.ts';
import { byteWindow } from './byte-window.ts';

/** What a frame header says. */
export interface Mp3Header {
  readonly byteLength: number;
  readonly sampleRateHz: number;
  readonly channelCount: 1 | 2;
  /** Samples of each channel in a frame. */
  readonly frameSamples: number;
  /** MPEG 1, or one of the lower rates. */
  readonly isMpeg1: boolean;
}

/** Every how many frames the place is noted. */
export const framesPerMark = 16;

/** Where the frames of a file stand. */
export interface Mp3Index {
  readonly header: Mp3Header;
  readonly frameCount: number;
  /** Where every sixteenth frame begins in the file. */
  readonly marks: readonly number[];
  /** Bytes between frames that are none. */
  readonly strayBytes: number;
  /** The first frame's bytes, which may hold a table instead of sound. */
  readonly first: Uint8Array;
}

const leastFrames = 2;

/**
 * Walks through all frames of an MP3 file: it has neither a length nor a clock of its own. null when there are not
 * two frames that follow each other.
 *
 * Source: ISO/IEC 11172-3:1993, section 2.4.1.3; ISO/IEC 13818-3:1998 for the lower rates.
 */
export async function indexMp3(source: ByteSource, from: number, to: number): Promise<Mp3Index | null> {
  const window = byteWindow(source, from, to);
  const marks: number[] = [];
  let header: Mp3Header | null = null;
  let first = new Uint8Array(0);
  let frameCount = 0;
  let strayBytes = 0;
  let skipped = 0;
  let isInStep = false;
  let at = 0;
  let isMore = await window.more(0);
  for (;;) {
    const bytes = window.bytes();
    if (isMore && at + 2 * mostFrameBytes > bytes.length) {
      isMore = await window.more(at);
      at = 0;
      continue;
    }
    if (at + 4 > bytes.length) break;
    const found = mp3HeaderAt(bytes, at, header);
    const isFrame =
      found !== null &&
      at + found.byteLength <= bytes.length &&
      (isInStep || followsOn(bytes, at + found.byteLength, header ?? found));
    if (!isFrame) {
      isInStep = false;
      const next = bytes.indexOf(0xff, at + 1);
      const step = (next < 0 ? bytes.length : next) - at;
      if (header !== null) skipped += step;
      at += step;
      continue;
    }
    if (header === null) {
      header = found;
      first = bytes.slice(at, at + found.byteLength);
    }
    if (frameCount % framesPerMark === 0) marks.push(window.at() + at);
    frameCount++;
    // What stands behind the last frame, such as half a frame, moves nothing on the clock.
    strayBytes += skipped;
    skipped = 0;
    isInStep = true;
    at += found.byteLength;
  }
  return header === null || frameCount < leastFrames
    ? null
    : { header, frameCount, marks, strayBytes, first };
}

/** One frame from a stretch of the file; `bytes` are valid until the next is asked for. */
export interface Mp3Frame {
  readonly index: number;
  readonly bytes: Uint8Array;
}

/** The frames of an indexed file from frame `from` on, which must have a mark. */
export async function* mp3Frames(
  source: ByteSource,
  { header, frameCount, marks }: Mp3Index,
  from: number,
  to: number,
): AsyncGenerator<Mp3Frame> {
  const window = byteWindow(source, marks[from / framesPerMark]!, to);
  let index = from;
  let at = 0;
  let isMore = await window.more(0);
  while (index < frameCount) {
    const bytes = window.bytes();
    if (isMore && at + 2 * mostFrameBytes > bytes.length) {
      isMore = await window.more(at);
      at = 0;
      continue;
    }
    // Marks keep this in step with the index where bytes that are no frames lie between.
    const mark = index % framesPerMark === 0 ? marks[index / framesPerMark]! - window.at() : at;
    if (mark > at) at = mark;
    const found = at + 4 > bytes.length ? null : mp3HeaderAt(bytes, at, header);
    if (found === null || at + found.byteLength > bytes.length) {
      const next = bytes.indexOf(0xff, at + 1);
      if (at + 4 > bytes.length || next < 0) return;
      at = next;
      continue;
    }
    yield { index, bytes: bytes.subarray(at, at + found.byteLength) };
    index++;
    at += found.byteLength;
  }
}

// MPEG 1 at 320 kbit/s and 32 kHz.
const mostFrameBytes = 1441;

function followsOn(bytes: Uint8Array, at: number, like: Mp3Header): boolean {
  return at + 4 > bytes.length || mp3HeaderAt(bytes, at, like) !== null;
}

/** The header of a layer 3 frame at `at`, and of the same kind as `like`; null when there is none. */
function mp3HeaderAt(bytes: Uint8Array, at: number, like: Mp3Header | null): Mp3Header | null {
  if (bytes[at] !== 0xff || (bytes[at + 1]! & 0xe6) !== 0xe2) return null;
  const version = (bytes[at + 1]! >> 3) & 3;
  const rateCode = (bytes[at + 2]! >> 2) & 3;
  const bitRateCode = bytes[at + 2]! >> 4;
  if (version === 1 || rateCode === 3 || bitRateCode === 0 || bitRateCode === 15) return null;
  const isMpeg1 = version === 3;
  const sampleRateHz = ratesHz[rateCode]! / (isMpeg1 ? 1 : version === 2 ? 2 : 4);
  const bitsPerS = 1000 * (isMpeg1 ? kilobitsMpeg1 : kilobitsMpeg2)[bitRateCode]!;
  const padding = (bytes[at + 2]! >> 1) & 1;
  const header: Mp3Header = {
    byteLength: Math.floor(((isMpeg1 ? 144 : 72) * bitsPerS) / sampleRateHz) + padding,
    sampleRateHz,
    channelCount: bytes[at + 3]! >> 6 === 3 ? 1 : 2,
    frameSamples: isMpeg1 ? 1152 : 576,
    isMpeg1,
  };
  const isAlike =
    like === null ||
    (like.sampleRateHz === sampleRateHz &&
      like.channelCount === header.channelCount &&
      like.isMpeg1 === isMpeg1);
  return isAlike ? header : null;
}

const ratesHz = [44_100, 48_000, 32_000] as const;
const kilobitsMpeg1 = [0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320] as const;
const kilobitsMpeg2 = [0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160] as const;
