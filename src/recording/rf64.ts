import { type ByteSource, latinText, readBytes } from './byte-source.ts';
import { type ChunkLayout, riffLayout } from './chunks.ts';

const ds64At = 12;
// Longer tables than this are taken for damage; a file has a handful of chunks over 4 GiB at most.
const mostTableEntries = 1000;

/**
 * The layout of an RF64 or BW64 file: RIFF, except that a size of 0xFFFFFFFF stands in the ds64 chunk, which
 * comes first, in 64 bits. Without a ds64 chunk, or for a chunk it does not name, the size stays 0xFFFFFFFF:
 * never set.
 *
 * Sources: EBU Tech 3306 (2009), RF64; ITU-R BS.2088-1 (2019), BW64.
 */
export async function rf64Layout(source: ByteSource): Promise<ChunkLayout> {
  const sizes = await largeSizes(source);
  return {
    ...riffLayout,
    nested: { ids: ['RIFF', 'RF64', 'BW64'], innerAt: 4 },
    parse: (header) => {
      const parsed = riffLayout.parse(header);
      if (parsed === null || parsed.statedBytes !== 0xffff_ffff) return parsed;
      return { id: parsed.id, statedBytes: sizes.get(parsed.id) ?? parsed.statedBytes };
    },
  };
}

/** Sizes in bytes by chunk id: RIFF size (passed over), data size, sample count (passed over), table. */
async function largeSizes(source: ByteSource): Promise<ReadonlyMap<string, number>> {
  const sizes = new Map<string, number>();
  const head = await readBytes(source, ds64At, 8);
  if (head.byteLength < 8 || latinText(head, 0, 4) !== 'ds64') return sizes;
  const bodyBytes = Math.min(head.getUint32(4, true), 28 + 12 * mostTableEntries);
  const body = await readBytes(source, ds64At + 8, bodyBytes);
  if (body.byteLength < 28) return sizes;
  const entries = Math.min(body.getUint32(24, true), Math.floor((body.byteLength - 28) / 12));
  for (let entry = 0; entry < entries; entry++) {
    const at = 28 + 12 * entry;
    sizes.set(latinText(body, at, 4), Number(body.getBigUint64(at + 4, true)));
  }
  sizes.set('data', Number(body.getBigUint64(8, true)));
  return sizes;
}
