import { type ByteRange, type ByteSource, readBytes } from './byte-source.ts';
import type { Chunk, ChunkWalk } from './chunks.ts';

/** Where the sound stands in a file: whole frames, one stretch behind another. */
export interface SoundExtent {
  readonly ranges: readonly ByteRange[];
  readonly frameCount: number;
  readonly warnings: readonly string[];
}

// Fewer stray bytes than this behind the sound are taken for padding or a tag, not for sound the header forgot.
const leastForgottenBytes = 4096;
const lookedAtBytes = 65_536;
// A size that was never set: all ones in 32 or in 64 bits (which a double rounds up).
const neverSet: readonly number[] = [0xffff_ffff, 2 ** 64, 2 ** 64 - 24];

/**
 * Settles which bytes are sound when headers may lie: a recorder that lost power leaves a data size of 0,
 * 0xFFFFFFFF, too large or too small. What is really there is read, and a warning says so. Files that were
 * appended to hold several data chunks; only the last of a file can lie, since the walk went on behind the others.
 *
 * @param pieces the data chunks to read, in order, at least one
 */
export async function soundExtent(
  source: ByteSource,
  walk: ChunkWalk,
  pieces: readonly Chunk[],
  frameBytes: number,
): Promise<SoundExtent> {
  const warnings: string[] = [];
  const ranges: ByteRange[] = [];
  let frameCount = 0;
  for (const piece of pieces) {
    const { soundBytes, warning } =
      piece === pieces.at(-1)
        ? await trueSize(source, walk, piece)
        : { soundBytes: piece.presentBytes, warning: null };
    if (warning !== null) warnings.push(warning);
    const overhang = soundBytes % frameBytes;
    if (overhang > 0)
      warnings.push(`the last frame is incomplete: ${overhang} of ${frameBytes} bytes, passed over`);
    frameCount += Math.floor(soundBytes / frameBytes);
    if (soundBytes >= frameBytes) ranges.push({ at: piece.bodyAt, byteLength: soundBytes - overhang });
  }
  if (ranges.length > 1) warnings.push(`${ranges.length} data chunks: read one behind another`);
  return { ranges, frameCount, warnings };
}

async function trueSize(
  source: ByteSource,
  walk: ChunkWalk,
  data: Chunk,
): Promise<{ soundBytes: number; warning: string | null }> {
  const toEndOfFile = source.byteLength - data.bodyAt;
  if (data.statedBytes > data.presentBytes) {
    const warning = neverSet.includes(data.statedBytes)
      ? `data size was never set (0xFFFFFFFF): read to the end of the file, ${toEndOfFile} bytes`
      : `data cut short: the header says ${data.statedBytes} bytes, the file holds ${toEndOfFile}`;
    return { soundBytes: data.presentBytes, warning };
  }
  if (data.statedBytes === 0) {
    if (toEndOfFile === 0 || chunksReachEnd(walk)) return { soundBytes: 0, warning: null };
    const warning = `data size is 0: read to the end of the file, ${toEndOfFile} bytes`;
    return { soundBytes: toEndOfFile, warning };
  }
  if (await soundGoesOn(source, walk, data)) {
    const warning =
      `data size is too small: the header says ${data.statedBytes} bytes, ` +
      `but sound goes on to the end of the file, ${toEndOfFile} bytes`;
    return { soundBytes: toEndOfFile, warning };
  }
  const warning =
    walk.strayBytes >= 8
      ? `${walk.strayBytes} bytes from byte ${walk.strayAt} on belong to no chunk: passed over`
      : null;
  return { soundBytes: data.presentBytes, warning };
}

/**
 * The data chunks to read: all that hold anything, and the last where its size may have been left at 0; else the
 * first; none where there are none.
 */
export function dataChunksOf(walk: ChunkWalk): readonly Chunk[] {
  const all = walk.chunks.filter(({ id }) => id === 'data');
  const filled = all.filter(
    (chunk) => chunk.presentBytes > 0 || (chunk === walk.chunks.at(-1) && walk.strayBytes > 0),
  );
  return filled.length > 0 ? filled : all.slice(0, 1);
}

/** True when the chunks fill the file to its end, so that nothing is left that could be sound. */
function chunksReachEnd(walk: ChunkWalk): boolean {
  const last = walk.chunks.at(-1)!;
  return last.id !== 'data' && walk.strayBytes < 2 && last.statedBytes === last.presentBytes;
}

async function soundGoesOn(source: ByteSource, walk: ChunkWalk, data: Chunk): Promise<boolean> {
  if (walk.chunks.at(-1) !== data || walk.strayBytes < leastForgottenBytes) return false;
  // Zeros behind the sound are more likely space set aside for the file than sound.
  const view = await readBytes(source, walk.strayAt, lookedAtBytes);
  for (let at = 0; at < view.byteLength; at++) if (view.getUint8(at) !== 0) return true;
  return false;
}
