import { InputError } from '../../input-error.ts';
import type { ByteSource } from '../byte-source.ts';
import type { CompressedContents, DecodedRun } from './decoded-blocks.ts';
import { type OggPage, oggPages, packetGatherer } from './ogg-pages.ts';
import { type VorbisDecoder, type VorbisSetup, vorbisDecoder } from './vorbis-decoder.ts';

// Room for three of the longest pages.
const endBytes = 200_000;
// The setup of a Vorbis stream takes a few kilobytes.
const mostHeaderPages = 64;
// One byte can hardly stand for more than a block of samples.
const mostFramesPerByte = 8192;

interface VorbisStream extends VorbisSetup {
  readonly serial: number;
  /** Where the first page with sound begins in the file. */
  readonly soundAt: number;
  /** Position on the stream's own clock of frame 0. */
  readonly origin: number;
}

/**
 * Reads the header of an Ogg Vorbis file and finds its end. Pages are decoded as they are asked for; their
 * checksums are looked at first.
 *
 * Source: Xiph.Org Foundation, Vorbis I specification, section 4.2 and appendix A.
 *
 * @throws InputError when the header cannot be read or there is no sound behind it
 */
export async function openVorbis(source: ByteSource): Promise<CompressedContents> {
  const stream = await readHeader(source);
  const { frameCount, warnings } = await findEnd(source, stream);
  return {
    format: 'Ogg Vorbis',
    sampleRateHz: stream.sampleRateHz,
    channelCount: stream.channelCount,
    encoding: 'float32',
    frameCount,
    bextTime: null,
    warnings,
    runs: (channelIndex, startFrame) => decodedRuns(source, stream, channelIndex, startFrame),
  };
}

async function readHeader(source: ByteSource): Promise<VorbisStream> {
  const wrong = (found: string, wanted: string) =>
    new InputError({ file: source.path, place: 'header', found, wanted });
  const gather = packetGatherer();
  const headers: Uint8Array[] = [];
  let serial: number | null = null;
  let pageCount = 0;
  for await (const page of oggPages(source, 0, source.byteLength)) {
    if (++pageCount > mostHeaderPages) break;
    if (serial !== null && page.serial !== serial) continue;
    serial ??= page.serial;
    if (headers.length < 3) {
      headers.push(...gather(page).packets.map((packet) => packet.slice()));
      continue;
    }
    const setup = setupOf(headers, wrong);
    // Where the first page is lost, the stream is taken to have begun at 0.
    const origin = gather(page).isHole ? 0 : await originOf(setup, page);
    return { ...setup, serial, soundAt: page.at, origin };
  }
  if (headers.length < 3)
    throw wrong(`${headers.length} of its 3 packets`, 'a whole header of an Ogg Vorbis file');
  throw wrong('no sound behind the header', 'an Ogg Vorbis file with sound in it');
}

function setupOf(headers: readonly Uint8Array[], wrong: (found: string, wanted: string) => InputError) {
  const [identification, , setup] = headers as [Uint8Array, Uint8Array, Uint8Array];
  const isWhole = identification.length >= 30 && setup[0] === 5;
  if (!isWhole)
    throw wrong('packets that are cut short or out of order', 'a whole header of an Ogg Vorbis file');
  const view = new DataView(identification.buffer, identification.byteOffset, identification.length);
  const channelCount = view.getUint8(11);
  const sampleRateHz = view.getUint32(12, true);
  if (channelCount === 0) throw wrong('0 channels', 'one channel or more');
  if (sampleRateHz === 0) throw wrong('a sample rate of 0 Hz', 'a sample rate above 0 Hz');
  const longBlock = 1 << (view.getUint8(28) >> 4);
  return { identification, setup, channelCount, sampleRateHz, longBlock };
}

/** A stream cut out of a longer one does not begin at 0. */
async function originOf(setup: VorbisSetup, first: OggPage): Promise<number> {
  if (first.granule === null || first.isLast) return 0;
  const { packets } = packetGatherer()(first);
  // Two neighbouring blocks share half of what they span: where so many packets can give the samples, they do.
  const mostFrames = (packets.length * setup.longBlock) / 2;
  if (first.granule <= mostFrames) return 0;
  const decoder = await vorbisDecoder(setup);
  try {
    const decoded = await decoder.decode(packets);
    return Math.max(0, first.granule - (decoded?.[0]?.length ?? first.granule));
  } finally {
    decoder.free();
  }
}

async function findEnd(source: ByteSource, stream: VorbisStream) {
  const warnings: string[] = [];
  let last: OggPage | null = null;
  for (let length = endBytes; last === null; length *= 16) {
    const from = Math.max(stream.soundAt, source.byteLength - length);
    for await (const page of oggPages(source, from, source.byteLength)) {
      if (page.serial === stream.serial && page.granule !== null) last = page;
    }
    if (from === stream.soundAt) break;
  }
  const frameCount = (last?.granule ?? 0) - stream.origin;
  if (frameCount < 1 || frameCount > source.byteLength * mostFramesPerByte) {
    const found = frameCount < 1 ? 'no sound behind the header' : `${frameCount} samples, which cannot be`;
    throw new InputError({ file: source.path, found, wanted: 'an Ogg Vorbis file with sound in it' });
  }
  if (last !== null && !last.isLast) {
    warnings.push(`the file ends without its end mark: read to the last whole page, ${frameCount} samples`);
  }
  return { frameCount, warnings };
}

/** Where in the file to begin so as to have every sample from `startFrame` on: by halving. */
async function byteBefore(source: ByteSource, stream: VorbisStream, startFrame: number): Promise<number> {
  let low = stream.soundAt;
  let high = source.byteLength;
  while (high - low > 64 * 1024) {
    const middle = low + Math.floor((high - low) / 2);
    const page = await firstPage(source, stream, middle, high);
    if (page !== null && page.granule! - stream.origin <= startFrame) low = page.at;
    else high = middle;
  }
  return low;
}

async function firstPage(source: ByteSource, stream: VorbisStream, from: number, to: number) {
  for await (const page of oggPages(source, from, to)) {
    if (page.serial === stream.serial && page.granule !== null) return page;
  }
  return null;
}

async function* decodedRuns(
  source: ByteSource,
  stream: VorbisStream,
  channelIndex: number,
  startFrame: number,
): AsyncGenerator<DecodedRun> {
  const from = await byteBefore(source, stream, startFrame);
  const gather = packetGatherer();
  let decoder: VorbisDecoder = await vorbisDecoder(stream);
  // Where the next sample belongs; null when only the end of a page can tell.
  let next: number | null = null;
  let isFirstPage = from === stream.soundAt;
  try {
    for await (const page of oggPages(source, from, source.byteLength)) {
      if (page.serial !== stream.serial) continue;
      const { packets, isHole } = gather(page);
      if (isHole) next = null;
      const decoded = await decoder.decode(packets);
      if (decoded === null) {
        decoder.free();
        decoder = await vorbisDecoder(stream);
        next = null;
        isFirstPage = false;
        continue;
      }
      const samples = decoded[channelIndex];
      const count = samples?.length ?? 0;
      const end = page.granule === null ? null : page.granule - stream.origin;
      // A short stream may end inside its first page, where only the beginning is sure.
      if (isFirstPage && page.isLast) next = 0;
      else if (next === null && end !== null) next = end - count;
      isFirstPage = false;
      if (next === null) continue;
      if (samples !== undefined && count > 0) yield { atFrame: next, samples };
      next = end === null || page.isLast ? next + count : end;
    }
  } finally {
    decoder.free();
  }
}
