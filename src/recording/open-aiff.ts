import { InputError } from '../input-error.ts';
import { type ByteSource, joinedSource, latinText, readBytes } from './byte-source.ts';
import { type Chunk, type ChunkLayout, isFourLetters, walkChunks } from './chunks.ts';
import { headRoomBytes, type PieceConverter, pieceConverter } from './convert.ts';
import { bytesPerSample } from './encodings.ts';
import type { PcmContents } from './pcm-recording.ts';
import type { WaveEncoding } from './types.ts';

/** As RIFF, with sizes in big-endian order. */
const aiffLayout: ChunkLayout = {
  firstChunkAt: 12,
  headerBytes: 8,
  alignmentBytes: 2,
  parse: (header) => {
    const id = latinText(header, 0, 4);
    return isFourLetters(id) ? { id, statedBytes: header.getUint32(4) } : null;
  },
};

interface AiffFormat {
  readonly channelCount: number;
  readonly statedFrames: number;
  readonly sampleRateHz: number;
  readonly encoding: WaveEncoding;
  readonly isBigEndian: boolean;
  /** 8-bit AIFF is signed, 8-bit WAVE is not. */
  readonly isSigned8: boolean;
}

/**
 * Finds format and sound in an AIFF or AIFF-C file with uncompressed samples.
 *
 * Sources: Apple, Audio Interchange File Format 1.3 (1989); Audio Interchange File Format AIFF-C, draft (1991).
 *
 * @throws InputError when there is no COMM or SSND chunk, the sound is compressed, or there are no samples
 */
export async function openAiff(source: ByteSource): Promise<PcmContents> {
  const { chunks } = await walkChunks(source, aiffLayout);
  const wrong = (place: string, found: string, wanted: string) =>
    new InputError({ file: source.path, place, found, wanted });
  const comm = chunks.find(({ id }) => id === 'COMM');
  const ssnd = chunks.find(({ id }) => id === 'SSND');
  if (comm === undefined) throw wrong('header', 'no COMM chunk', 'one that tells how samples are stored');
  if (ssnd === undefined) throw wrong('header', 'no SSND chunk', 'one with samples');
  const isAiffC = latinText(await readBytes(source, 8, 4), 0, 4) === 'AIFC';
  const body = await readBytes(source, comm.bodyAt, Math.min(comm.presentBytes, 26));
  const format = parseCommon(body, isAiffC, wrong);
  const { encoding, channelCount, sampleRateHz } = format;
  const frameBytes = channelCount * bytesPerSample[encoding];
  const extent = await soundExtentOf(source, ssnd, format, frameBytes);
  if (extent.frameCount < 1) throw wrong('SSND chunk', 'no samples', 'at least one');
  const { at, frameCount, warnings } = extent;
  return {
    format: 'AIFF',
    sampleRateHz,
    channelCount,
    encoding,
    frameBytes,
    frameCount,
    sound: joinedSource(source, [{ at, byteLength: frameCount * frameBytes }]),
    converter: (channelIndex) => aiffConverter(format, channelIndex),
    bextTime: null,
    warnings,
  };
}

type Wrong = (place: string, found: string, wanted: string) => InputError;

function parseCommon(body: DataView, isAiffC: boolean, wrong: Wrong): AiffFormat {
  const least = isAiffC ? 22 : 18;
  if (body.byteLength < least)
    throw wrong('COMM chunk', `${body.byteLength} bytes`, `at least ${least} bytes: a header not cut short`);
  const channelCount = body.getUint16(0);
  const bits = body.getUint16(6);
  const sampleRateHz = Math.round(extendedFloat(body, 8));
  if (channelCount === 0) throw wrong('COMM chunk', '0 channels', 'one channel or more');
  if (!(sampleRateHz >= 1 && sampleRateHz <= 0xffff_ffff))
    throw wrong('COMM chunk', `a sample rate of ${sampleRateHz} Hz`, 'a sample rate above 0 Hz');
  const kind = isAiffC ? latinText(body, 18, 4) : 'NONE';
  const encoding = encodingOf(kind, bits);
  if (encoding === null) {
    const wanted = 'uncompressed samples: integers of 8 to 32 bits, or float of 32 or 64 bits';
    throw wrong('COMM chunk', `samples of ${bits} bits, compression ${JSON.stringify(kind)}`, wanted);
  }
  return {
    channelCount,
    statedFrames: body.getUint32(2),
    sampleRateHz,
    encoding,
    isBigEndian: kind !== 'sowt',
    isSigned8: kind !== 'raw ',
  };
}

function encodingOf(kind: string, bits: number): WaveEncoding | null {
  const whole = (['pcm8', 'pcm16', 'pcm24', 'pcm32'] as const)[Math.ceil(bits / 8) - 1] ?? null;
  switch (kind) {
    case 'NONE':
    case 'sowt':
    case 'twos':
      return whole;
    case 'raw ':
      return whole === 'pcm8' ? whole : null;
    case 'in24':
      return 'pcm24';
    case 'in32':
      return 'pcm32';
    case 'fl32':
    case 'FL32':
      return 'float32';
    case 'fl64':
    case 'FL64':
      return 'float64';
    default:
      return null;
  }
}

/** IEEE 754 extended precision, 80 bits, big-endian: sign and exponent, then 64 bits with the leading one. */
function extendedFloat(view: DataView, at: number): number {
  const exponent = view.getUint16(at) & 0x7fff;
  const sign = view.getUint16(at) & 0x8000 ? -1 : 1;
  const mantissa = view.getUint32(at + 2) * 2 ** 32 + view.getUint32(at + 6);
  return sign * mantissa * 2 ** (exponent - 16_383 - 63);
}

/** Behind the head of SSND (offset, block size); a size of 0 or past the end is read to the end of the file. */
async function soundExtentOf(source: ByteSource, ssnd: Chunk, format: AiffFormat, frameBytes: number) {
  const warnings: string[] = [];
  const head = await readBytes(source, ssnd.bodyAt, 8);
  const offset = head.byteLength < 8 ? 0 : head.getUint32(0);
  const at = ssnd.bodyAt + 8 + offset;
  let soundBytes = ssnd.bodyAt + ssnd.presentBytes - at;
  const toEndOfFile = source.byteLength - at;
  if (ssnd.statedBytes <= 8 && toEndOfFile >= frameBytes && format.statedFrames === 0) {
    soundBytes = toEndOfFile;
    warnings.push(`the size of the sound was never set: read to the end of the file, ${toEndOfFile} bytes`);
  } else if (ssnd.statedBytes > ssnd.presentBytes) {
    warnings.push(
      `sound cut short: the header says ${ssnd.statedBytes} bytes, the file holds ${ssnd.presentBytes}`,
    );
  }
  let frameCount = Math.max(0, Math.floor(soundBytes / frameBytes));
  if (warnings.length === 0 && format.statedFrames > 0 && format.statedFrames !== frameCount) {
    warnings.push(`the header says ${format.statedFrames} frames, the sound chunk holds ${frameCount}`);
    frameCount = Math.min(frameCount, format.statedFrames);
  }
  return { at, frameCount, warnings };
}

/** Turns the bytes of each sample round, and then reads them as those of a WAVE file. */
function aiffConverter(format: AiffFormat, channelIndex: number): PieceConverter {
  const { encoding, channelCount, isBigEndian, isSigned8 } = format;
  const convert = pieceConverter({ encoding, channelCount, channelIndex });
  const sampleBytes = bytesPerSample[encoding];
  return (piece, frameCount, out) => {
    const bytes = new Uint8Array(piece, headRoomBytes, frameCount * channelCount * sampleBytes);
    if (encoding === 'pcm8') {
      if (isSigned8) for (let at = 0; at < bytes.length; at++) bytes[at]! ^= 0x80;
    } else if (isBigEndian) {
      turnRound(bytes, sampleBytes);
    }
    convert(piece, frameCount, out);
  };
}

function turnRound(bytes: Uint8Array, sampleBytes: number): void {
  for (let start = 0; start < bytes.length; start += sampleBytes) {
    for (let low = start, high = start + sampleBytes - 1; low < high; low++, high--) {
      const byte = bytes[low]!;
      bytes[low] = bytes[high]!;
      bytes[high] = byte;
    }
  }
}
