import { open, rename, rm } from 'node:fs/promises';
import { InputError, unwritable } from '../input-error.ts';
import { openRecording } from './open-recording.ts';
import type { Recording, WaveEncoding } from './types.ts';
import { mostRiffBytes } from './wave-header.ts';
import { markChunks, type WaveMark } from './wave-marks.ts';
import { createWaveWriter } from './wave-writer.ts';

/** Which stretch is copied, and what is written beside it. */
export interface ExcerptOptions {
  readonly startFrame: number;
  /** Frame after the last. */
  readonly endFrame: number;
  /** In frames from the excerpt's start; they stand in `cue ` and `LIST` chunks behind the sound. */
  readonly marks: readonly WaveMark[];
  /** Clock time of the excerpt's start to the whole second, ISO 8601; null for none. */
  readonly startTime: string | null;
}

// Samples pass through 32-bit floats on their way, which hold these exactly.
const keptEncodings: ReadonlySet<WaveEncoding | null> = new Set(['pcm8', 'pcm16', 'pcm24', 'float32']);

/**
 * Writes a copy of a stretch of a recording as a WAVE file with marks. Samples of up to 24 bits and 32-bit floats stay
 * exactly as they are, others become 32-bit floats. The recording is only read; the file is written under a temporary
 * name and renamed.
 *
 * @throws InputError for a file that is no recording, a stretch outside it, a place that cannot be written
 */
export async function writeExcerpt(from: string, to: string, options: ExcerptOptions): Promise<void> {
  const recording = await openRecording(from);
  const unfinished = `${to}.${process.pid}.part`;
  try {
    const { frameCount } = recording.info;
    const { startFrame, endFrame, marks } = options;
    if (!(startFrame >= 0 && startFrame < endFrame && endFrame <= frameCount)) {
      const found = `frames ${startFrame} to ${endFrame}`;
      throw new InputError({ file: from, found, wanted: `a stretch within its ${frameCount} frames` });
    }
    await copySound(recording, unfinished, options);
    try {
      await appendChunks(to, unfinished, markChunks(marks));
      await rename(unfinished, to);
    } catch (error) {
      throw error instanceof InputError ? error : unwritable(to, error);
    }
  } finally {
    await rm(unfinished, { force: true });
    await recording.close();
  }
}

async function copySound(
  { info, blocks }: Recording,
  path: string,
  { startFrame, endFrame, startTime }: ExcerptOptions,
): Promise<void> {
  const { sampleRateHz, channelCount, encoding } = info;
  const writer = await createWaveWriter(path, {
    sampleRateHz,
    channelCount,
    encoding: keptEncodings.has(encoding) ? encoding : 'float32',
    ...(startTime === null ? {} : { startTime }),
  });
  try {
    const channels = Array.from({ length: channelCount }, (_, k) => blocks(k + 1, { startFrame, endFrame }));
    for (;;) {
      const parts = await Promise.all(channels.map((channel) => channel.next()));
      if (parts.some(({ done }) => done)) break;
      await writer.write(parts.map(({ value }) => value as Float32Array));
    }
    await writer.finish();
  } finally {
    await writer.abort();
  }
}

/** Appends chunks to a finished WAVE file and counts them in. */
async function appendChunks(to: string, path: string, chunks: Uint8Array): Promise<void> {
  const file = await open(path, 'r+');
  try {
    const { size } = await file.stat();
    if (size + chunks.byteLength > mostRiffBytes) {
      const found = 'more than a WAVE file holds (4 GiB)';
      throw new InputError({ file: to, found, wanted: 'a shorter excerpt' });
    }
    await file.write(chunks, 0, chunks.byteLength, size);
    const riffBytes = Buffer.alloc(4);
    riffBytes.writeUInt32LE(size + chunks.byteLength - 8);
    await file.write(riffBytes, 0, 4, 4);
  } finally {
    await file.close();
  }
}
