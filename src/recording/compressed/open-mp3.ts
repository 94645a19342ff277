import { InputError } from '../../input-error.ts';
import { type ByteSource, latinText, readBytes } from '../byte-source.ts';
import type { CompressedContents, DecodedRun } from './decoded-blocks.ts';
import { framesPerMark, indexMp3, type Mp3Index, mp3Frames } from './mp3-frames.ts';
import { quietly } from './quietly.ts';

/** What stands in a first frame that holds a table instead of sound. */
interface Mp3Table {
  readonly frameCount: number | null;
  /** Samples that the coder put before the sound and behind it; null when it does not say. */
  readonly delay: number | null;
  readonly padding: number;
}

// What the decoder itself adds before the sound: half a window of the filter bank, and one sample.
const decoderDelay = 529;
// The bits of a frame may begin in frames before it, at most 511 bytes back: nine of the shortest frames suffice.
const runUpFrames = framesPerMark;
const framesAtOnce = 16;

/**
 * Walks through an MP3 file (MPEG 1, 2 and 2.5, layer 3) once for its length. Frames are decoded as they are asked
 * for. What the decoder adds before the sound is cut off, and where the coder noted how much silence it put before
 * and behind, so is that: times are then those of the recording. Where it did not, they may be late by what the
 * coder added, some tens of milliseconds.
 *
 * @throws InputError when there are no frames
 */
export async function openMp3(source: ByteSource): Promise<CompressedContents> {
  const { from, to } = await betweenTags(source);
  const index = await indexMp3(source, from, to);
  const none = 'no two frames that follow each other';
  const wanted = 'an MP3 file with sound in it, of a stated bit rate';
  if (index === null) throw new InputError({ file: source.path, found: none, wanted });
  const { header } = index;
  const table = tableOf(index.first, header.isMpeg1, header.channelCount);
  const soundFrames = index.frameCount - (table === null ? 0 : 1);
  const warnings: string[] = [];
  const isCut = table?.frameCount != null && table.frameCount > soundFrames;
  if (isCut) {
    warnings.push(
      `sound cut short: the header says ${table.frameCount} frames, the file holds ${soundFrames}`,
    );
  }
  if (index.strayBytes > 0) {
    warnings.push(
      `${index.strayBytes} bytes between frames are no sound: passed over, and what follows may be told too early`,
    );
  }
  const before = (table?.delay ?? 0) + decoderDelay;
  const behind = table?.delay == null || isCut ? 0 : Math.max(0, table.padding - decoderDelay);
  const frameCount = soundFrames * header.frameSamples - before - behind;
  if (frameCount < 1) throw new InputError({ file: source.path, found: none, wanted });
  const shift = before + (table === null ? 0 : header.frameSamples);
  return {
    format: 'MP3',
    sampleRateHz: header.sampleRateHz,
    channelCount: header.channelCount,
    encoding: 'float32',
    frameCount,
    bextTime: null,
    warnings,
    runs: (channelIndex, startFrame) =>
      decodedRuns(source, index, { to, shift, firstFrame: table === null ? 0 : 1 }, channelIndex, startFrame),
  };
}

/** Between an ID3v2 tag at the beginning and an ID3v1 tag at the end. */
async function betweenTags(source: ByteSource): Promise<{ from: number; to: number }> {
  const head = await readBytes(source, 0, 10);
  let from = 0;
  if (latinText(head, 0, 3) === 'ID3' && head.byteLength === 10) {
    // Seven bits to a byte; a flag tells of ten more bytes at the end.
    const size = [6, 7, 8, 9].reduce((sum, at) => sum * 128 + (head.getUint8(at) & 0x7f), 0);
    from = 10 + size + ((head.getUint8(5) & 0x10) === 0 ? 0 : 10);
  }
  const tail = await readBytes(source, Math.max(0, source.byteLength - 128), 3);
  return { from, to: source.byteLength - (latinText(tail, 0, 3) === 'TAG' ? 128 : 0) };
}

/**
 * The table that coders put in place of sound into the first frame: `Xing` or `Info`, then, after the coder's
 * name, its delay and padding in twelve bits each (as the LAME coder writes them); or `VBRI`.
 */
function tableOf(frame: Uint8Array, isMpeg1: boolean, channelCount: 1 | 2): Mp3Table | null {
  const view = new DataView(frame.buffer, frame.byteOffset, frame.byteLength);
  if (latinText(view, 36, 4) === 'VBRI') return { frameCount: null, delay: null, padding: 0 };
  const at = 4 + (isMpeg1 ? (channelCount === 1 ? 17 : 32) : channelCount === 1 ? 9 : 17);
  const name = latinText(view, at, 4);
  if ((name !== 'Xing' && name !== 'Info') || at + 8 > frame.length) return null;
  const flags = view.getUint32(at + 4);
  let next = at + 8;
  const frameCount = (flags & 1) !== 0 && next + 4 <= frame.length ? view.getUint32(next) : null;
  next += 4 * (flags & 1) + 4 * ((flags >> 1) & 1) + 100 * ((flags >> 2) & 1) + 4 * ((flags >> 3) & 1);
  const isNamed = /^[A-Za-z]{4}/.test(latinText(view, next, 4));
  if (!isNamed || next + 24 > frame.length) return { frameCount, delay: null, padding: 0 };
  const packed = (view.getUint8(next + 21) << 16) | view.getUint16(next + 22);
  return { frameCount, delay: packed >> 12, padding: packed & 0xfff };
}

async function* decodedRuns(
  source: ByteSource,
  index: Mp3Index,
  place: { readonly to: number; readonly shift: number; readonly firstFrame: number },
  channelIndex: number,
  startFrame: number,
): AsyncGenerator<DecodedRun> {
  const { MPEGDecoder } = await import('mpg123-decoder');
  const { frameSamples } = index.header;
  const wanted = Math.floor((startFrame + place.shift) / frameSamples);
  const from = Math.max(0, Math.floor((wanted - runUpFrames) / framesPerMark)) * framesPerMark;
  const decoder = new MPEGDecoder({ enableGapless: false });
  await decoder.ready;
  let held: Uint8Array[] = [];
  let heldFrom = from;
  const decodeHeld = async (): Promise<DecodedRun | null> => {
    const frames = held;
    const atFrame = heldFrom * frameSamples - place.shift;
    held = [];
    const { channelData } = quietly(() => decoder.decode(Buffer.concat(frames)));
    const samples = channelData[channelIndex];
    if (samples?.length === frames.length * frameSamples) return { atFrame, samples };
    // Damaged frames, and the decoder would be out of step with the clock from here on.
    await decoder.reset();
    return null;
  };
  try {
    for await (const frame of mp3Frames(source, index, from, place.to)) {
      if (frame.index < place.firstFrame) continue;
      if (held.length === 0) heldFrom = frame.index;
      held.push(frame.bytes.slice());
      if (held.length < framesAtOnce) continue;
      const run = await decodeHeld();
      // Frames of the run-up only fill the decoder's memory.
      if (run !== null && run.atFrame + run.samples.length > startFrame) yield run;
    }
    const run = held.length === 0 ? null : await decodeHeld();
    if (run !== null) yield run;
  } finally {
    decoder.free();
  }
}
