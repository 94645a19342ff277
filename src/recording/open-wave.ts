import { InputError } from '../input-error.ts';
import { type ByteSource, readBytes } from './byte-source.ts';
import { type Chunk, type ChunkWalk, riffLayout, walkChunks } from './chunks.ts';
import { bextStartTime, bextTimeBytes } from './start-time.ts';
import { dataChunkOf, type SoundExtent, soundExtent } from './wave-data.ts';
import { formatBytes, parseFormat, type WaveFormat } from './wave-format.ts';

/** What the chunks of a WAVE file say, checked. */
export interface WaveContents {
  readonly format: WaveFormat;
  readonly extent: SoundExtent;
  /** Wall-clock start time of the bext chunk, when there is one. */
  readonly bextTime: string | null;
  readonly warnings: readonly string[];
}

/**
 * Finds format, sound and start time in a RIFF WAVE file. Chunks may come in any order.
 *
 * @throws InputError when there is no fmt or data chunk, the format is not one that is read (see
 * `parseFormat`), or there are no samples
 */
export async function waveContents(source: ByteSource): Promise<WaveContents> {
  const walk = await walkChunks(source, riffLayout);
  const warnings: string[] = [];
  const fmt = walk.chunks.find(({ id }) => id === 'fmt ');
  if (fmt === undefined)
    throw lacking(source, walk, 'no fmt chunk', 'a fmt chunk that tells how samples are stored');
  const format = parseFormat(source.path, await body(source, fmt, formatBytes));

  const data = dataChunkOf(walk);
  if (data === undefined) throw lacking(source, walk, 'no data chunk', 'a data chunk with samples');
  const extent = await soundExtent(source, walk, data, format.frameBytes);
  if (extent.frameCount === 0) {
    throw new InputError({
      file: source.path,
      place: 'data chunk',
      found: 'no samples',
      wanted: 'at least one',
    });
  }
  const more = walk.chunks.filter((chunk) => chunk.id === 'data' && chunk !== data && chunk.presentBytes > 0);
  if (more.length > 0) warnings.push(`${more.length + 1} data chunks: only the first is read`);

  const bext = walk.chunks.find(({ id }) => id === 'bext');
  const start = bext === undefined ? null : bextStartTime(await body(source, bext, bextTimeBytes));
  if (start?.warning) warnings.push(start.warning);
  const cut = walk.chunks.find((chunk) => chunk !== data && chunk.presentBytes < chunk.statedBytes);
  if (cut !== undefined) {
    warnings.push(
      `chunk ${JSON.stringify(cut.id)} cut short: its header says ${cut.statedBytes} bytes, ` +
        `the file holds ${cut.presentBytes}`,
    );
  }
  return { format, extent, bextTime: start?.time ?? null, warnings: [...extent.warnings, ...warnings] };
}

function body(source: ByteSource, chunk: Chunk, byteCount: number): Promise<DataView> {
  return readBytes(source, chunk.bodyAt, Math.min(byteCount, chunk.presentBytes));
}

function lacking(source: ByteSource, walk: ChunkWalk, found: string, wanted: string): InputError {
  const ids = walk.chunks.slice(0, 8).map(({ id }) => id.trim());
  const seen = ids.length === 0 ? 'no chunks at all' : `chunks: ${ids.join(', ')}`;
  return new InputError({ file: source.path, place: 'header', found: `${found} (${seen})`, wanted });
}
