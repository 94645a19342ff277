import { type FileHandle, open, rename, rm } from 'node:fs/promises';
import { threadId } from 'node:worker_threads';
import { InputError, unwritable } from '../input-error.ts';
import { encodeFrames } from './encode.ts';
import { bytesPerSample } from './encodings.ts';
import { parseStartTime } from './start-time.ts';
import type { WaveEncoding } from './types.ts';
import { mostRiffBytes, type WaveShape, waveHeader } from './wave-header.ts';

/** What a file to be written is like. */
export interface WaveWriterOptions {
  readonly sampleRateHz: number;
  readonly channelCount: number;
  readonly encoding: WaveEncoding;
  /**
   * ISO 8601 to the whole second, written as a bext chunk. That chunk holds wall-clock time alone, so an
   * offset is not kept.
   */
  readonly startTime?: string;
}

/** What a finished file holds. */
export interface WrittenWave {
  readonly frameCount: number;
  /** Samples beyond ±1 that an integer encoding could not hold. */
  readonly clippedSampleCount: number;
}

/** Writes a WAVE file bit by bit. Wait for each call before the next. */
export interface WaveWriter {
  /** Appends a block: one array per channel, all of one length. The arrays are free again afterwards. */
  readonly write: (channels: readonly Float32Array[]) => Promise<void>;
  /** Completes the header and gives the file its name. */
  readonly finish: () => Promise<WrittenWave>;
  /** Leaves nothing behind. Does nothing after `finish`. */
  readonly abort: () => Promise<void>;
}

const slabBytes = 512 * 1024;

/**
 * Begins a WAVE file under a temporary name beside `path`; `finish` renames it into place. A failed write
 * removes the temporary file.
 *
 * @throws InputError when the place cannot be written, the start time is no time, or the sound outgrows the
 * 4 GiB of a WAVE file; RangeError for a rate, channel count or block that makes no sense
 */
export async function createWaveWriter(path: string, options: WaveWriterOptions): Promise<WaveWriter> {
  const shape = checkedShape(options);
  const headerBytes = waveHeader(shape, 0).byteLength;
  const frameBytes = shape.channelCount * bytesPerSample[shape.encoding];
  const slab = new DataView(new ArrayBuffer(Math.max(slabBytes, frameBytes)));
  // Threads of one process may write files of one name in turn.
  const temporary = `${path}.${process.pid}.${threadId}.tmp`;
  let handle: FileHandle | null = await open(temporary, 'w').catch((error: unknown) => {
    throw unwritable(path, error);
  });
  let frameCount = 0;
  let clippedSampleCount = 0;
  let isBusy = false;

  const abort = async (): Promise<void> => {
    if (handle === null) return;
    const closing = handle;
    handle = null;
    await closing.close().catch(() => undefined);
    await rm(temporary, { force: true });
  };

  /** Runs one step; whatever goes wrong, nothing half-written stays. */
  const step = async <T>(action: (file: FileHandle) => Promise<T>): Promise<T> => {
    if (handle === null) throw new Error(`${path}: the writer is finished or aborted`);
    if (isBusy) throw new Error(`${path}: the writer was called again before its last call was done`);
    isBusy = true;
    try {
      return await action(handle);
    } catch (error) {
      await abort();
      throw (error as NodeJS.ErrnoException).syscall !== undefined ? unwritable(path, error) : error;
    } finally {
      isBusy = false;
    }
  };

  const write = (channels: readonly Float32Array[]): Promise<void> =>
    step(async (file) => {
      const blockFrames = checkedBlockFrames(channels, shape.channelCount);
      // One byte is kept for padding.
      if (headerBytes + (frameCount + blockFrames) * frameBytes + 1 > mostRiffBytes) throw tooLarge(path);
      const at = headerBytes + frameCount * frameBytes;
      clippedSampleCount += await writeFrames(file, at, slab, shape, channels);
      frameCount += blockFrames;
    });

  const finish = (): Promise<WrittenWave> =>
    step(async (file) => {
      const soundBytes = frameCount * frameBytes;
      if (soundBytes % 2 === 1) await writeAll(file, new Uint8Array(1), headerBytes + soundBytes);
      await writeAll(file, waveHeader(shape, frameCount), 0);
      await file.close();
      await rename(temporary, path);
      handle = null;
      return { frameCount, clippedSampleCount };
    });

  return { write, finish, abort };
}

/**
 * Writes a whole WAVE file: one array per channel, all of one length.
 *
 * @returns frames written and samples clipped
 * @throws as `createWaveWriter`
 */
export async function writeWave(
  path: string,
  options: Omit<WaveWriterOptions, 'channelCount'> & { readonly channels: readonly Float32Array[] },
): Promise<WrittenWave> {
  const { channels, ...rest } = options;
  const writer = await createWaveWriter(path, { ...rest, channelCount: channels.length });
  await writer.write(channels);
  return writer.finish();
}

function checkedShape({ sampleRateHz, channelCount, encoding, startTime }: WaveWriterOptions): WaveShape {
  const isWhole = (value: number, highest: number) =>
    Number.isInteger(value) && value >= 1 && value <= highest;
  if (!isWhole(sampleRateHz, 0xffff_ffff)) throw new RangeError(`a sample rate of ${sampleRateHz} Hz`);
  // The header counts the bytes of a frame in 16 bits.
  const mostChannels = Math.floor(0xffff / bytesPerSample[encoding]);
  if (!isWhole(channelCount, mostChannels)) throw new RangeError(`${channelCount} channels`);
  return { sampleRateHz, channelCount, encoding, bextTime: bextTimeOf(startTime) };
}

function bextTimeOf(startTime: string | undefined): string | null {
  if (startTime === undefined) return null;
  const time = parseStartTime(startTime);
  if (time[19] === '.' && /^\.0*[1-9]/.test(time.slice(19))) {
    throw new InputError({
      file: '--start-time',
      found: JSON.stringify(startTime),
      wanted: 'a time to the whole second, since a WAVE file holds no finer',
    });
  }
  return time.slice(0, 19);
}

function checkedBlockFrames(channels: readonly Float32Array[], channelCount: number): number {
  const blockFrames = channels[0]?.length ?? 0;
  if (channels.length !== channelCount || channels.some(({ length }) => length !== blockFrames)) {
    const lengths = channels.map(({ length }) => length).join(', ');
    throw new RangeError(`a block needs ${channelCount} channels of one length, not lengths ${lengths}`);
  }
  return blockFrames;
}

/** Writes a block, a slab at a time, from a place in the file on, and tells how many samples were clipped. */
async function writeFrames(
  file: FileHandle,
  position: number,
  slab: DataView<ArrayBuffer>,
  { channelCount, encoding }: WaveShape,
  channels: readonly Float32Array[],
): Promise<number> {
  const frameBytes = channelCount * bytesPerSample[encoding];
  const slabFrames = Math.floor(slab.byteLength / frameBytes);
  const blockFrames = channels[0]?.length ?? 0;
  let clipped = 0;
  for (let from = 0; from < blockFrames; from += slabFrames) {
    const to = Math.min(from + slabFrames, blockFrames);
    clipped += encodeFrames(slab, encoding, channels, from, to);
    const bytes = new Uint8Array(slab.buffer, 0, (to - from) * frameBytes);
    await writeAll(file, bytes, position + from * frameBytes);
  }
  return clipped;
}

async function writeAll(file: FileHandle, bytes: Uint8Array, position: number): Promise<void> {
  let done = 0;
  while (done < bytes.byteLength) {
    done += (await file.write(bytes, done, bytes.byteLength - done, position + done)).bytesWritten;
  }
}

function tooLarge(path: string): InputError {
  return new InputError({
    file: path,
    found: 'more sound than a WAVE file holds (4 GiB)',
    wanted: 'a shorter recording, fewer channels or fewer bits',
  });
}
