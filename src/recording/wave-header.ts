import { bytesPerSample, formatCode, isFloat, subformatTail } from './encodings.ts';
import type { WaveEncoding } from './types.ts';

/** Shape of a WAVE file to be written. */
export interface WaveShape {
  readonly sampleRateHz: number;
  readonly channelCount: number;
  readonly encoding: WaveEncoding;
  /** Wall-clock time, `yyyy-mm-ddThh:mm:ss`, for a bext chunk; null for none. */
  readonly bextTime: string | null;
}

/** A RIFF header counts its bytes in 32 bits. */
export const mostRiffBytes = 0xffff_ffff;

// Length of a bext chunk without coding history (EBU Tech 3285).
const bextBytes = 602;

/**
 * Everything before the samples: RIFF, bext when there is a start time, fmt, fact for float, and the head of
 * the data chunk. More than two channels take the extensible header.
 */
export function waveHeader(shape: WaveShape, frameCount: number): Uint8Array {
  const sampleBytes = bytesPerSample[shape.encoding];
  const soundBytes = frameCount * shape.channelCount * sampleBytes;
  const chunks: Uint8Array[] = [];
  if (shape.bextTime !== null) chunks.push(chunk('bext', bextBody(shape.bextTime)));
  chunks.push(chunk('fmt ', formatBody(shape)));
  if (isFloat(shape.encoding)) chunks.push(chunk('fact', littleEndian([[4, frameCount]])));
  const dataHead = concat([ascii('data'), littleEndian([[4, soundBytes]])]);
  const inner = concat([ascii('WAVE'), ...chunks, dataHead]);
  const riffBytes = inner.byteLength + soundBytes + (soundBytes % 2);
  return concat([ascii('RIFF'), littleEndian([[4, riffBytes]]), inner]);
}

function formatBody({ encoding, channelCount, sampleRateHz }: WaveShape): Uint8Array {
  const sampleBytes = bytesPerSample[encoding];
  const frameBytes = sampleBytes * channelCount;
  const code = isFloat(encoding) ? formatCode.float : formatCode.pcm;
  const isExtensible = channelCount > 2;
  const plain = littleEndian([
    [2, isExtensible ? formatCode.extensible : code],
    [2, channelCount],
    [4, sampleRateHz],
    [4, Math.min(sampleRateHz * frameBytes, 0xffff_ffff)],
    [2, frameBytes],
    [2, 8 * sampleBytes],
  ]);
  if (!isExtensible) return plain;
  // Extension size, valid bits, no loudspeaker places, subformat.
  const extension = littleEndian([
    [2, 22],
    [2, 8 * sampleBytes],
    [4, 0],
    [2, code],
  ]);
  return concat([plain, extension, Uint8Array.from(subformatTail)]);
}

function bextBody(time: string): Uint8Array {
  const body = new Uint8Array(bextBytes);
  body.set(ascii(time.slice(0, 10)), 320);
  body.set(ascii(time.slice(11, 19)), 330);
  body[346] = 1; // version
  return body;
}

function chunk(id: string, body: Uint8Array): Uint8Array {
  return concat([ascii(id), littleEndian([[4, body.byteLength]]), body]);
}

function ascii(text: string): Uint8Array {
  return Uint8Array.from(text, (letter) => letter.charCodeAt(0));
}

function littleEndian(fields: readonly (readonly [bytes: 2 | 4, value: number])[]): Uint8Array {
  const view = new DataView(new ArrayBuffer(fields.reduce((sum, [bytes]) => sum + bytes, 0)));
  let at = 0;
  for (const [bytes, value] of fields) {
    if (bytes === 2) view.setUint16(at, value, true);
    else view.setUint32(at, value, true);
    at += bytes;
  }
  return new Uint8Array(view.buffer);
}

function concat(parts: readonly Uint8Array[]): Uint8Array {
  return new Uint8Array(Buffer.concat(parts));
}
