import { endianness } from 'node:os';
import wavDecoder from 'wav-decoder';
import { bytesPerSample, formatCode, isFloat } from './encodings.ts';
import type { WaveEncoding } from './types.ts';

/** Room before the samples of a piece, where a RIFF header is put for wav-decoder; a multiple of 4. */
export const headRoomBytes = 44;

/** How the frames of a piece are stored, and which channel of them is wanted. */
export interface PieceShape {
  readonly encoding: WaveEncoding;
  readonly channelCount: number;
  /** From 0. */
  readonly channelIndex: number;
}

/**
 * Turns a piece of a file into samples of one channel: `piece` holds `headRoomBytes` free bytes, then
 * `frameCount` frames; the samples go to the first `frameCount` places of `out`.
 */
export type PieceConverter = (piece: ArrayBuffer, frameCount: number, out: Float32Array) => void;

/**
 * The converter for a shape: a typed-array view for 16-bit integers and 32-bit floats, which most recordings
 * are made of, and wav-decoder for the rest. Both give the same numbers.
 */
export function pieceConverter(shape: PieceShape): PieceConverter {
  return viewConverter(shape) ?? decoderConverter(shape);
}

/** Conversion by typed-array view; null for encodings it does not take, and on big-endian machines. */
export function viewConverter({ encoding, channelCount, channelIndex }: PieceShape): PieceConverter | null {
  if (endianness() !== 'LE') return null;
  if (encoding === 'pcm16') {
    return (piece, frameCount, out) => {
      const stored = new Int16Array(piece, headRoomBytes, frameCount * channelCount);
      for (let frame = 0, at = channelIndex; frame < frameCount; frame++, at += channelCount) {
        out[frame] = stored[at]! / 32768;
      }
    };
  }
  if (encoding === 'float32') {
    return (piece, frameCount, out) => {
      const stored = new Float32Array(piece, headRoomBytes, frameCount * channelCount);
      for (let frame = 0, at = channelIndex; frame < frameCount; frame++, at += channelCount) {
        out[frame] = stored[at]!;
      }
    };
  }
  return null;
}

/**
 * Conversion by wav-decoder, which is given the wanted channel as a small mono file. Its symmetric option
 * divides by one number above and below zero, which is what is wanted: 0 stays 0 and the scale is linear.
 * Two readings of wav-decoder 1.3.0 are put right here:
 * - 8 bits: with the option, silence (128) would become 1/255; without it, positive samples are divided by
 *   127. The latter is taken and the positive samples are scaled back to 1/128.
 * - 24 bits: the lowest value, 0x800000, comes out as +1, a value no other reaches; it is -1.
 * 32-bit samples are rounded to the 24 bits that a Float32Array holds, so the highest reads as 1.
 */
export function decoderConverter({ encoding, channelCount, channelIndex }: PieceShape): PieceConverter {
  const sampleBytes = bytesPerSample[encoding];
  const symmetric = encoding !== 'pcm8';
  let mono = new ArrayBuffer(0);
  return (piece, frameCount, out) => {
    let file = piece;
    if (channelCount > 1) {
      const byteLength = headRoomBytes + frameCount * sampleBytes;
      if (mono.byteLength < byteLength) mono = new ArrayBuffer(byteLength);
      gatherChannel(piece, mono, frameCount, sampleBytes, channelCount, channelIndex);
      file = mono;
    }
    putMonoHeader(file, encoding, frameCount * sampleBytes);
    const samples = wavDecoder.decode.sync(file, { symmetric }).channelData[0]!;
    if (encoding === 'pcm8') straightenPcm8(samples);
    if (encoding === 'pcm24') restoreLowestPcm24(samples);
    out.set(samples);
  };
}

function gatherChannel(
  piece: ArrayBuffer,
  mono: ArrayBuffer,
  frameCount: number,
  sampleBytes: number,
  channelCount: number,
  channelIndex: number,
): void {
  const from = new Uint8Array(piece, headRoomBytes);
  const to = new Uint8Array(mono, headRoomBytes);
  const frameBytes = sampleBytes * channelCount;
  for (let frame = 0; frame < frameCount; frame++) {
    const fromAt = frame * frameBytes + channelIndex * sampleBytes;
    const toAt = frame * sampleBytes;
    for (let byte = 0; byte < sampleBytes; byte++) to[toAt + byte] = from[fromAt + byte]!;
  }
}

/** A RIFF header for one channel in the first 44 bytes; the rate is of no account to the samples. */
function putMonoHeader(file: ArrayBuffer, encoding: WaveEncoding, soundBytes: number): void {
  const view = new DataView(file);
  const sampleBytes = bytesPerSample[encoding];
  const put = (at: number, text: string) => {
    for (let index = 0; index < text.length; index++) view.setUint8(at + index, text.charCodeAt(index));
  };
  put(0, 'RIFF');
  view.setUint32(4, 36 + soundBytes, true);
  put(8, 'WAVEfmt ');
  view.setUint32(16, 16, true);
  view.setUint16(20, isFloat(encoding) ? formatCode.float : formatCode.pcm, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, 8000, true);
  view.setUint32(28, 8000 * sampleBytes, true);
  view.setUint16(32, sampleBytes, true);
  view.setUint16(34, 8 * sampleBytes, true);
  put(36, 'data');
  view.setUint32(40, soundBytes, true);
}

function straightenPcm8(samples: Float32Array): void {
  for (let index = 0; index < samples.length; index++) {
    const sample = samples[index]!;
    if (sample > 0) samples[index] = Math.round(sample * 127) / 128;
  }
}

function restoreLowestPcm24(samples: Float32Array): void {
  for (let index = 0; index < samples.length; index++) if (samples[index] === 1) samples[index] = -1;
}
