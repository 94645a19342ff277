import { type ByteSource, readBytes } from './byte-source.ts';
import type { Chunk, ChunkWalk } from './chunks.ts';

/** Where the sound stands in a file. */
export interface SoundExtent {
  readonly soundAt: number;
  readonly frameCount: number;
  readonly warnings: readonly string[];
}

// Fewer stray bytes than this behind the sound are taken for padding or a tag, not for sound the header forgot.
const leastForgottenBytes = 4096;
const lookedAtBytes = 65_536;

/**
 * Settles which bytes are sound when the header may lie: a recorder that lost power leaves a data size of 0,
 * 0xFFFFFFFF, too large or too small. What is really there is read, and a warning says so.
 *
 * @param data the chunk chosen by `dataChunkOf`
 */
export async function soundExtent(
  source: ByteSource,
  walk: ChunkWalk,
  data: Chunk,
  frameBytes: number,
): Promise<SoundExtent> {
  const warnings: string[] = [];
  const toEndOfFile = source.byteLength - data.bodyAt;
  let soundBytes = data.presentBytes;
  if (data.statedBytes > data.presentBytes) {
    warnings.push(
      data.statedBytes === 0xffff_ffff
        ? `data size was never set (0xFFFFFFFF): read to the end of the file, ${toEndOfFile} bytes`
        : `data cut short: the header says ${data.statedBytes} bytes, the file holds ${toEndOfFile}`,
    );
  } else if (data.statedBytes === 0) {
    if (toEndOfFile > 0 && !chunksReachEnd(walk)) {
      soundBytes = toEndOfFile;
      warnings.push(`data size is 0: read to the end of the file, ${toEndOfFile} bytes`);
    }
  } else if (await soundGoesOn(source, walk, data)) {
    soundBytes = toEndOfFile;
    warnings.push(
      `data size is too small: the header says ${data.statedBytes} bytes, ` +
        `but sound goes on to the end of the file, ${toEndOfFile} bytes`,
    );
  } else if (walk.strayBytes >= 8) {
    warnings.push(`${walk.strayBytes} bytes from byte ${walk.strayAt} on belong to no chunk: passed over`);
  }
  const overhang = soundBytes % frameBytes;
  if (overhang > 0)
    warnings.push(`the last frame is incomplete: ${overhang} of ${frameBytes} bytes, passed over`);
  return { soundAt: data.bodyAt, frameCount: Math.floor(soundBytes / frameBytes), warnings };
}

/** The data chunk to read: the first that holds anything, else the first; undefined when there is none. */
export function dataChunkOf(walk: ChunkWalk): Chunk | undefined {
  const all = walk.chunks.filter(({ id }) => id === 'data');
  return all.find(({ presentBytes }) => presentBytes > 0) ?? all[0];
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
