import { crc8, crc16 } from '../../src/recording/compressed/checksums.ts';
import { ascii, type Bytes } from './wave-bytes.ts';

/** Hand-made FLAC, byte by byte (RFC 9639), mono, 16 bits, 8000 Hz. */

const be16 = (value: number): Bytes => [(value >> 8) & 255, value & 255];

/** The head of a file: STREAMINFO alone, for blocks of so many samples. */
export function flacHead(blockFrames: number, totalFrames: number): Bytes {
  // 20 bits of rate, 3 of channels less one, 5 of bits less one, 36 of length.
  const packed = [8000 >> 12, (8000 >> 4) & 255, (8000 & 15) << 4, 15 << 4];
  const total = [(totalFrames >>> 24) & 255, (totalFrames >>> 16) & 255, ...be16(totalFrames & 0xffff)];
  const info = [...be16(blockFrames), ...be16(blockFrames), 0, 0, 0, 0, 0, 0, ...packed, ...total];
  return [...ascii('fLaC'), 0x80, 0, 0, 34, ...info, ...new Array<number>(16).fill(0)];
}

/** A block with both checksums right, whatever its subframe holds. */
export function flacBlock(number: number, blockFrames: number, subframe: Bytes, codes = 0x74): Bytes {
  const head = [0xff, 0xf8, codes, 0x08, number & 0x7f, ...be16(blockFrames - 1)];
  const withCrc8 = [...head, crc8(Uint8Array.from(head), 0, head.length)];
  const whole = [...withCrc8, ...subframe];
  return [...whole, ...be16(crc16(Uint8Array.from(whole), 0, whole.length))];
}

/** A subframe that stores every sample as it is. */
export function verbatim(samples: readonly number[]): Bytes {
  return [0x02, ...samples.flatMap((sample) => be16(sample & 0xffff))];
}
