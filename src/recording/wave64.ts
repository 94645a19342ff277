import { latinText } from './byte-source.ts';
import type { ChunkLayout } from './chunks.ts';

/**
 * The layout of a Wave64 file: chunk ids are GUIDs that begin with the letters of their RIFF counterparts, sizes
 * have 64 bits and count the 24 bytes of the chunk header, chunks begin at multiples of 8.
 *
 * Source: Sony Pictures Digital, Sony Wave64 Information and Specification (2006).
 */
export const wave64Layout: ChunkLayout = {
  // After the GUID of the file, its size, and the GUID of the form.
  firstChunkAt: 40,
  headerBytes: 24,
  alignmentBytes: 8,
  parse: (header) => {
    const size = Number(header.getBigUint64(16, true));
    const id = latinText(header, 0, 4);
    const isNamed = tails.some((tail) => tail.every((byte, index) => header.getUint8(4 + index) === byte));
    // A recorder that died left the size at 0 or at that of the header.
    if (isNamed) return { id, statedBytes: Math.max(0, size - 24) };
    return size >= 24 ? { id: 'guid', statedBytes: size - 24 } : null;
  },
};

/** The last twelve bytes of the GUIDs of fmt, data, fact, bext …, and of riff and list. */
const tails: readonly (readonly number[])[] = [
  [0xf3, 0xac, 0xd3, 0x11, 0x8c, 0xd1, 0x00, 0xc0, 0x4f, 0x8e, 0xdb, 0x8a],
  [0x2e, 0x91, 0xcf, 0x11, 0xa5, 0xd6, 0x28, 0xdb, 0x04, 0xc1, 0x00, 0x00],
  [0x2f, 0x91, 0xcf, 0x11, 0xa5, 0xd6, 0x28, 0xdb, 0x04, 0xc1, 0x00, 0x00],
];

/** The first 40 bytes: is this a Wave64 file with the form WAVE? */
export function isWave64(head: DataView): boolean {
  return (
    head.byteLength >= wave64Layout.firstChunkAt &&
    latinText(head, 0, 4) === 'riff' &&
    latinText(head, 24, 4) === 'wave' &&
    tails[0]!.every((byte, index) => head.getUint8(28 + index) === byte)
  );
}
