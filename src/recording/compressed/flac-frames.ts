import type { ByteSource } from '../byte-source.ts';
import { byteWindow } from './byte-window.ts';
import { crc8, crc16 } from './checksums.ts';

/** What the frames of a stream have in common. */
export interface FlacStream {
  readonly channelCount: number;
  readonly bitsPerSample: number;
  /** Frames (samples of every channel) in a block, where all blocks are alike. */
  readonly blockFrames: number;
  /** Where the first frame begins, and where the last may end, in the file. */
  readonly soundAt: number;
  readonly soundEnd: number;
  /** A beginning of a file for the decoder: see `flacDecoder`. */
  readonly head: Uint8Array;
}

/** One coded block; `bytes` are valid until the next is asked for. */
export interface FlacFrame {
  readonly atFrame: number;
  readonly frameCount: number;
  readonly bytes: Uint8Array;
  /** Where it begins in the file. */
  readonly at: number;
  /** Whether its checksum is right. */
  readonly isWhole: boolean;
}

interface Header {
  readonly at: number;
  readonly atFrame: number;
  readonly frameCount: number;
}

// The longest header: 4 bytes, 7 of a number, 2 and 2 of sizes, a checksum.
const mostHeaderBytes = 16;
const leastFrameBytes = 10;
// 8 channels of 65535 samples of 32 bits, uncompressed, and a little.
const mostFrameBytes = 2_200_000;
const mostStrays = 64;

/**
 * The coded blocks of a FLAC stream from byte `from` of the file on. A block ends where the header of the next one
 * stands; damage is passed over, to the next two headers that follow each other.
 *
 * Source: RFC 9639, Free Lossless Audio Codec, section 9.
 */
export async function* flacFrames(
  source: ByteSource,
  stream: FlacStream,
  from: number,
): AsyncGenerator<FlacFrame> {
  const window = byteWindow(source, from, stream.soundEnd);
  // Positions in the file: the block in hand, and headers seen since that do not follow it.
  let current: Header | null = null;
  let strays: Header[] = [];
  let scanned = from;
  let isMore = await window.more(0);
  for (;;) {
    const bytes = window.bytes();
    const last = isMore ? bytes.length - mostHeaderBytes : bytes.length - leastFrameBytes;
    for (let at = scanned - window.at(); at <= last; at++) {
      at = bytes.indexOf(0xff, at);
      if (at < 0 || at > last) break;
      const found = headerAt(bytes, at, stream);
      if (found === null) continue;
      const header: Header = { ...found, at: window.at() + at };
      const before = followed(current, strays, header);
      if (before !== null) {
        if (current !== null)
          yield frameOf(current, bytes, window.at(), before === current ? header.at : before.at);
        if (before !== current) yield frameOf(before, bytes, window.at(), header.at);
        current = header;
        strays = [];
      } else if (current === null && header.at === stream.soundAt) {
        current = header;
      } else if (current === null || header.atFrame > current.atFrame) {
        strays.push(header);
        if (strays.length > mostStrays) strays.shift();
      }
    }
    scanned = Math.max(scanned, window.at() + Math.max(0, last + 1));
    if (!isMore) break;
    const heldFrom = current?.at ?? strays[0]?.at ?? scanned;
    if (window.at() + bytes.length - heldFrom > mostFrameBytes) {
      // No block is this long: what was held is no beginning of one.
      if (current === null) strays.shift();
      current = null;
    }
    isMore = await window.more((current?.at ?? strays[0]?.at ?? scanned) - window.at());
  }
  if (current !== null) {
    const bytes = window.bytes();
    yield frameOf(current, bytes, window.at(), window.at() + bytes.length);
  }
}

/** The header, of the block in hand or seen since, that this one follows. */
function followed(current: Header | null, strays: readonly Header[], header: Header): Header | null {
  const isBefore = (one: Header) => one.atFrame + one.frameCount === header.atFrame;
  if (current !== null && isBefore(current)) return current;
  return strays.find(isBefore) ?? null;
}

function frameOf(header: Header, bytes: Uint8Array, windowAt: number, end: number): FlacFrame {
  const part = bytes.subarray(header.at - windowAt, end - windowAt);
  return { ...header, bytes: part, isWhole: crc16(part, 0, part.length) === 0 };
}

/** A frame header of this stream, its checksum right; null when there is none at `at`. */
function headerAt(bytes: Uint8Array, at: number, stream: FlacStream): Omit<Header, 'at'> | null {
  const second = bytes[at + 1]!;
  if (second !== 0xf8 && second !== 0xf9) return null;
  const sizeCode = bytes[at + 2]! >> 4;
  const rateCode = bytes[at + 2]! & 15;
  const channelCode = bytes[at + 3]! >> 4;
  if (sizeCode === 0 || rateCode === 15 || channelCode > 10 || (bytes[at + 3]! & 1) !== 0) return null;
  const bits = bitsByCode[(bytes[at + 3]! >> 1) & 7]!;
  const channels = channelCode < 8 ? channelCode + 1 : 2;
  if (channels !== stream.channelCount || (bits !== 0 && bits !== stream.bitsPerSample)) return null;
  const number = codedNumber(bytes, at + 4);
  if (number === null) return null;
  let next = at + 4 + number.byteLength;
  let frameCount = sizeCode === 1 ? 192 : sizeCode < 6 ? 144 << sizeCode : 1 << sizeCode;
  if (sizeCode === 6) {
    frameCount = bytes[next++]! + 1;
  } else if (sizeCode === 7) {
    frameCount = bytes[next]! * 256 + bytes[next + 1]! + 1;
    next += 2;
  }
  next += rateCode === 12 ? 1 : rateCode > 12 ? 2 : 0;
  if (next >= bytes.length || crc8(bytes, at, next) !== bytes[next]) return null;
  const atFrame = second === 0xf9 ? number.value : number.value * stream.blockFrames;
  return { atFrame, frameCount };
}

/** Bits per sample by code: 0 is that of the stream; -1 is reserved. */
const bitsByCode: readonly number[] = [0, 8, 12, -1, 16, 20, 24, 32];

/** A number of up to 36 bits in the manner of UTF-8. */
function codedNumber(bytes: Uint8Array, at: number): { value: number; byteLength: number } | null {
  const first = bytes[at]!;
  if (first < 0x80) return { value: first, byteLength: 1 };
  const byteLength = Math.clz32(~(first << 24));
  if (byteLength < 2 || byteLength > 7) return null;
  let value = first & (0x7f >> byteLength);
  for (let index = 1; index < byteLength; index++) {
    const byte = bytes[at + index]!;
    if ((byte & 0xc0) !== 0x80) return null;
    value = value * 64 + (byte & 0x3f);
  }
  return { value, byteLength };
}
