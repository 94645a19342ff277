import { type FileHandle, open, rename, rm } from 'node:fs/promises';
import { InputError } from '../input-error.ts';
import { openByteSource } from './byte-source.ts';
import { waveContents } from './open-wave.ts';
import { mostRiffBytes, waveHeader } from './wave-header.ts';
import { markChunks, type WaveMark } from './wave-marks.ts';

export interface ExcerptOptions {
  readonly startFrame: number;
  /** Frame after the last. */
  readonly endFrame: number;
  /** In frames from the excerpt's start; they stand in `cue ` and `LIST` chunks behind the sound. */
  readonly marks: readonly WaveMark[];
  /** Wall-clock time of the excerpt's start, `yyyy-mm-ddThh:mm:ss`; null for none. */
  readonly bextTime: string | null;
}

const slabBytes = 1 << 20;

/**
 * Writes a copy of a stretch of a WAVE file, its samples byte for byte, with marks. The file it comes from is only
 * read. Written under a temporary name and renamed.
 *
 * @throws InputError for a file that is no WAVE file, a stretch outside it, a place that cannot be written
 */
export async function writeExcerpt(from: string, to: string, options: ExcerptOptions): Promise<void> {
  const source = await openByteSource(from);
  const temporary = `${to}.${process.pid}.tmp`;
  let file: FileHandle | undefined;
  try {
    const { format, extent } = await waveContents(source);
    const { startFrame, endFrame, marks, bextTime } = options;
    if (!(startFrame >= 0 && startFrame < endFrame && endFrame <= extent.frameCount)) {
      throw new InputError({
        file: from,
        found: `frames ${startFrame} to ${endFrame}`,
        wanted: `a stretch within its ${extent.frameCount} frames`,
      });
    }
    const { sampleRateHz, channelCount, encoding, frameBytes } = format;
    const frameCount = endFrame - startFrame;
    const soundBytes = frameCount * frameBytes;
    const header = Buffer.from(waveHeader({ sampleRateHz, channelCount, encoding, bextTime }, frameCount));
    const tail = Buffer.concat([Buffer.alloc(soundBytes % 2), markChunks(marks)]);
    const total = header.byteLength + soundBytes + tail.byteLength;
    if (total > mostRiffBytes) {
      throw new InputError({
        file: to,
        found: 'more sound than a WAVE file holds (4 GiB)',
        wanted: 'a shorter excerpt',
      });
    }
    // The header was made for the sound alone.
    header.writeUInt32LE(total - 8, 4);
    file = await open(temporary, 'w').catch((error: unknown) => {
      throw unwritable(to, error);
    });
    await file.write(header);
    const slab = new Uint8Array(slabBytes);
    for (let done = 0; done < soundBytes; done += slabBytes) {
      const part = slab.subarray(0, Math.min(slabBytes, soundBytes - done));
      await source.readInto(part, extent.soundAt + startFrame * frameBytes + done);
      await file.write(part);
    }
    await file.write(tail);
    await file.close();
    file = undefined;
    await rename(temporary, to).catch((error: unknown) => {
      throw unwritable(to, error);
    });
  } finally {
    await file?.close();
    await rm(temporary, { force: true });
    await source.close();
  }
}

function unwritable(path: string, error: unknown): InputError {
  const found = `a place that cannot be written (${(error as Error).message})`;
  return new InputError({ file: path, found, wanted: 'a folder that exists and may be written to' });
}
