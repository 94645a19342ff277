import { InputError } from '../../input-error.ts';
import { type ByteSource, latinText, readBytes } from '../byte-source.ts';
import type { WaveEncoding } from '../types.ts';
import type { CompressedContents, DecodedRun } from './decoded-blocks.ts';
import { flacDecoder } from './flac-decoder.ts';
import { type FlacStream, flacFrames } from './flac-frames.ts';

// The last blocks of a file are looked for in so many bytes.
const endBytes = 4_500_000;
// A file of this many metadata blocks is damaged.
const mostMetadataBlocks = 1000;

/**
 * Reads the header of a FLAC file and finds its end. Blocks are decoded as they are asked for; their checksums are
 * looked at first. Samples are those that were coded, to the bit.
 *
 * Source: RFC 9639, Free Lossless Audio Codec.
 *
 * @throws InputError when the header cannot be read or there is no block behind it
 */
export async function openFlac(source: ByteSource): Promise<CompressedContents> {
  const { stream, sampleRateHz, totalFrames } = await readHeader(source);
  const { frameCount, warnings } = await findEnd(source, stream, totalFrames);
  return {
    format: 'FLAC',
    sampleRateHz,
    channelCount: stream.channelCount,
    encoding: encodingOf(stream.bitsPerSample),
    frameCount,
    bextTime: null,
    warnings,
    runs: (channelIndex, startFrame) => decodedRuns(source, stream, channelIndex, startFrame),
  };
}

function encodingOf(bits: number): WaveEncoding {
  return (['pcm8', 'pcm16', 'pcm24', 'pcm32'] as const)[Math.ceil(bits / 8) - 1]!;
}

async function readHeader(source: ByteSource) {
  const wrong = (found: string, wanted: string) =>
    new InputError({ file: source.path, place: 'STREAMINFO', found, wanted });
  const info = await readBytes(source, 4, 38);
  if (info.byteLength < 38) throw wrong(`${info.byteLength} bytes`, '38 bytes: a header not cut short');
  if ((info.getUint8(0) & 0x7f) !== 0) throw wrong('another block', 'STREAMINFO as the first block');
  const blockFrames = info.getUint16(6);
  const packed = info.getUint32(14);
  const sampleRateHz = packed >>> 12;
  const channelCount = ((packed >>> 9) & 7) + 1;
  const bitsPerSample = ((packed >>> 4) & 31) + 1;
  const totalFrames = (packed & 15) * 2 ** 32 + info.getUint32(18);
  if (sampleRateHz === 0) throw wrong('a sample rate of 0 Hz', 'a sample rate above 0 Hz');
  if (bitsPerSample < 4) throw wrong(`samples of ${bitsPerSample} bits`, 'samples of 4 to 32 bits');
  if (blockFrames < 16) throw wrong(`blocks of ${blockFrames} samples`, 'blocks of at least 16 samples');
  const stream: FlacStream = {
    channelCount,
    bitsPerSample,
    blockFrames,
    soundAt: await soundAtOf(source),
    soundEnd: await soundEndOf(source),
    head: headOf(info),
  };
  return { stream, sampleRateHz, totalFrames };
}

/** STREAMINFO as the only metadata, without the length and checksum of the whole, since any part may be decoded. */
function headOf(info: DataView): Uint8Array {
  const head = new Uint8Array(42);
  head.set([0x66, 0x4c, 0x61, 0x43]);
  head.set(new Uint8Array(info.buffer, info.byteOffset, 38), 4);
  head[4] = 0x80;
  head[21]! &= 0xf0;
  head.fill(0, 22);
  return head;
}

/** Behind the last metadata block. */
async function soundAtOf(source: ByteSource): Promise<number> {
  let at = 4;
  for (let block = 0; block < mostMetadataBlocks; block++) {
    const head = await readBytes(source, at, 4);
    if (head.byteLength < 4) break;
    at += 4 + (head.getUint32(0) & 0xff_ffff);
    if (head.getUint8(0) & 0x80) return at;
  }
  throw new InputError({
    file: source.path,
    place: 'metadata',
    found: 'no end of it',
    wanted: 'a FLAC file with sound behind its metadata',
  });
}

/** Before a tag that some programs put behind the sound. */
async function soundEndOf(source: ByteSource): Promise<number> {
  const tag = await readBytes(source, source.byteLength - 128, 3);
  return source.byteLength - (latinText(tag, 0, 3) === 'TAG' ? 128 : 0);
}

async function findEnd(source: ByteSource, stream: FlacStream, totalFrames: number) {
  const warnings: string[] = [];
  const lookFrom = Math.max(stream.soundAt, stream.soundEnd - endBytes);
  let end = 0;
  for await (const frame of flacFrames(source, stream, lookFrom)) {
    if (frame.isWhole) end = frame.atFrame + frame.frameCount;
  }
  if (end === 0 || end > Number.MAX_SAFE_INTEGER / 8) {
    const found = 'no whole block of sound';
    throw new InputError({ file: source.path, found, wanted: 'a FLAC file with sound in it' });
  }
  if (totalFrames === 0) {
    warnings.push(`the header tells no length: read to the last whole block, ${end} samples`);
  } else if (end < totalFrames) {
    warnings.push(`sound cut short: the header says ${totalFrames} samples, the file holds ${end}`);
  } else if (end > totalFrames) {
    warnings.push(`sound goes on after the ${totalFrames} samples that the header says: passed over`);
  }
  return { frameCount: totalFrames === 0 ? end : Math.min(end, totalFrames), warnings };
}

/** Where in the file to begin so as to have the block with `startFrame`: by halving. */
async function byteBefore(source: ByteSource, stream: FlacStream, startFrame: number): Promise<number> {
  let low = stream.soundAt;
  let high = stream.soundEnd;
  while (high - low > 64 * 1024) {
    const middle = low + Math.floor((high - low) / 2);
    const first = await firstWhole(source, stream, middle, high);
    if (first !== null && first.atFrame <= startFrame) low = first.at;
    else high = middle;
  }
  return low;
}

async function firstWhole(source: ByteSource, stream: FlacStream, from: number, to: number) {
  for await (const frame of flacFrames(source, stream, from)) {
    if (frame.at >= to) return null;
    if (frame.isWhole) return frame;
  }
  return null;
}

async function* decodedRuns(
  source: ByteSource,
  stream: FlacStream,
  channelIndex: number,
  startFrame: number,
): AsyncGenerator<DecodedRun> {
  const decoder = await flacDecoder(stream.head);
  // The decoder gives values as shares of the highest; they are brought back to whole numbers first.
  const highest = 2 ** (stream.bitsPerSample - 1) - 1;
  try {
    const from = await byteBefore(source, stream, startFrame);
    for await (const frame of flacFrames(source, stream, from)) {
      if (!frame.isWhole || frame.atFrame + frame.frameCount <= startFrame) continue;
      const samples = (await decoder.decode(frame.bytes, frame.frameCount))?.[channelIndex];
      if (samples === undefined) continue;
      for (let k = 0; k < samples.length; k++) {
        samples[k] = Math.round(samples[k]! * highest) / (highest + 1);
      }
      yield { atFrame: frame.atFrame, samples };
    }
  } finally {
    decoder.release();
  }
}
