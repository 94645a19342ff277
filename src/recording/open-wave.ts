import { InputError } from '../input-error.ts';
import { type ByteSource, joinedSource, readBytes } from './byte-source.ts';
import { type Chunk, type ChunkLayout, type ChunkWalk, riffLayout, walkChunks } from './chunks.ts';
import { pieceConverter } from './convert.ts';
import type { PcmContents } from './pcm-recording.ts';
import { rf64Layout } from './rf64.ts';
import { bextStartTime, bextTimeBytes } from './start-time.ts';
import { dataChunksOf, soundExtent } from './wave-data.ts';
import { formatBytes, parseFormat, type WaveFormat } from './wave-format.ts';
import { wave64Layout } from './wave64.ts';

/**
 * Finds format, sound and start time in a RIFF, RF64, BW64 or Wave64 file. Chunks may come in any order.
 *
 * @throws InputError when there is no fmt or data chunk, the format is not one that is read (see
 * `parseFormat`), or there are no samples
 */
export async function openWave(
  source: ByteSource,
  format: 'WAVE' | 'RF64' | 'BW64' | 'Wave64',
): Promise<PcmContents> {
  const walk = await walkChunks(source, await layoutOf(source, format));
  const { wave, sameFormat, warnings } = await formatOf(source, walk);
  const pieces = dataChunksOf(sameFormat);
  if (pieces.length === 0) throw lacking(source, walk, 'no data chunk', 'a data chunk with samples');
  const extent = await soundExtent(source, walk, pieces, wave.frameBytes);
  if (extent.frameCount === 0) {
    throw new InputError({
      file: source.path,
      place: 'data chunk',
      found: 'no samples',
      wanted: 'at least one',
    });
  }
  const start = await bextOf(source, walk);
  if (start.warning !== null) warnings.push(start.warning);
  const cut = walk.chunks.find(
    (chunk) => !pieces.includes(chunk) && chunk.presentBytes < chunk.statedBytes && chunk.id !== 'data',
  );
  if (cut !== undefined) {
    warnings.push(
      `chunk ${JSON.stringify(cut.id)} cut short: its header says ${cut.statedBytes} bytes, ` +
        `the file holds ${cut.presentBytes}`,
    );
  }
  const { encoding, channelCount, sampleRateHz, frameBytes } = wave;
  return {
    format,
    sampleRateHz,
    channelCount,
    encoding,
    frameBytes,
    frameCount: extent.frameCount,
    sound: joinedSource(source, extent.ranges),
    converter: (channelIndex) => pieceConverter({ encoding, channelCount, channelIndex }),
    bextTime: start.time,
    warnings: [...extent.warnings, ...warnings],
  };
}

async function layoutOf(source: ByteSource, format: string): Promise<ChunkLayout> {
  if (format === 'WAVE') return riffLayout;
  return format === 'Wave64' ? wave64Layout : rf64Layout(source);
}

/** The format, and the chunks up to where an appended part has another. */
async function formatOf(source: ByteSource, walk: ChunkWalk) {
  const warnings: string[] = [];
  let wave: WaveFormat | null = null;
  let usedChunks = walk.chunks.length;
  for (const [index, chunk] of walk.chunks.entries()) {
    if (chunk.id !== 'fmt ') continue;
    const body = await bodyOf(source, chunk, formatBytes);
    if (wave === null) {
      wave = parseFormat(source.path, body);
    } else if (!isSame(wave, body, source.path)) {
      usedChunks = index;
      warnings.push(`a second fmt chunk differs from the first: what lies behind it is passed over`);
      break;
    }
  }
  if (wave === null)
    throw lacking(source, walk, 'no fmt chunk', 'a fmt chunk that tells how samples are stored');
  return { wave, sameFormat: { ...walk, chunks: walk.chunks.slice(0, usedChunks) }, warnings };
}

function isSame(wave: WaveFormat, body: DataView, path: string): boolean {
  try {
    return JSON.stringify(parseFormat(path, body)) === JSON.stringify(wave);
  } catch (error) {
    if (error instanceof InputError) return false;
    throw error;
  }
}

async function bextOf(source: ByteSource, walk: ChunkWalk) {
  const bext = walk.chunks.find(({ id }) => id === 'bext');
  if (bext === undefined) return { time: null, warning: null };
  return bextStartTime(await bodyOf(source, bext, bextTimeBytes));
}

function bodyOf(source: ByteSource, chunk: Chunk, byteCount: number): Promise<DataView> {
  return readBytes(source, chunk.bodyAt, Math.min(byteCount, chunk.presentBytes));
}

function lacking(source: ByteSource, walk: ChunkWalk, found: string, wanted: string): InputError {
  const ids = walk.chunks.slice(0, 8).map(({ id }) => id.trim());
  const seen = ids.length === 0 ? 'no chunks at all' : `chunks: ${ids.join(', ')}`;
  return new InputError({ file: source.path, place: 'header', found: `${found} (${seen})`, wanted });
}
