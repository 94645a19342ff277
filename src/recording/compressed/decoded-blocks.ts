import type { FrameRange, SoundContents } from '../sound-contents.ts';

/** Samples of one channel as a decoder gives them, with the frame they begin with. Valid until the next. */
export interface DecodedRun {
  readonly atFrame: number;
  readonly samples: Float32Array;
}

/** What the reader of a compressed format gives: runs in the order of the clock, from a place on. */
export interface CompressedContents extends Omit<SoundContents, 'blocks' | 'notes'> {
  /** Runs of one channel, from 0, from one that begins at or before `startFrame` on. */
  readonly runs: (channelIndex: number, startFrame: number) => AsyncGenerator<DecodedRun>;
}

/**
 * Compressed sound, block by block. What the decoder could not give, since the file is damaged there, is silence:
 * every sample keeps its place on the clock, and a note says how much is missing.
 */
export function compressedSound(contents: CompressedContents): SoundContents {
  const { runs, ...rest } = contents;
  // Missing stretches by the frame they begin with: reading again counts nothing twice.
  const missing = new Map<number, number>();

  async function* blocks(
    channelIndex: number,
    { startFrame, endFrame, blockFrames }: FrameRange,
    look: ((startFrame: number, samples: Float32Array) => void) | null,
  ): AsyncGenerator<Float32Array> {
    if (startFrame >= endFrame) return;
    const block = new Float32Array(Math.min(blockFrames, endFrame - startFrame));
    let filled = 0;
    let frame = startFrame;
    /** Puts samples, or silence, into blocks; gives each that is full. */
    function* put(samples: Float32Array | null, count: number): Generator<Float32Array> {
      for (let done = 0; done < count; ) {
        const part = Math.min(count - done, block.length - filled);
        if (samples === null) block.fill(0, filled, filled + part);
        else block.set(samples.subarray(done, done + part), filled);
        done += part;
        filled += part;
        frame += part;
        if (filled < block.length && frame < endFrame) continue;
        const full = block.subarray(0, filled);
        look?.(frame - filled, full);
        filled = 0;
        yield full;
      }
    }
    for await (const { atFrame, samples } of runs(channelIndex, startFrame)) {
      const from = Math.max(0, frame - atFrame);
      if (from >= samples.length) continue;
      if (atFrame > frame) {
        const gap = Math.min(atFrame, endFrame) - frame;
        missing.set(frame, Math.max(gap, missing.get(frame) ?? 0));
        yield* put(null, gap);
      }
      yield* put(samples.subarray(from), Math.min(samples.length - from, endFrame - frame));
      if (frame >= endFrame) return;
    }
    missing.set(frame, Math.max(endFrame - frame, missing.get(frame) ?? 0));
    yield* put(null, endFrame - frame);
  }

  const notes = (): readonly string[] => {
    if (missing.size === 0) return [];
    const lostS = [...missing.values()].reduce((sum, frames) => sum + frames, 0) / contents.sampleRateHz;
    const places = missing.size === 1 ? 'one place' : `${missing.size} places`;
    return [
      `the compressed sound is damaged in ${places}: ${Number(lostS.toPrecision(3))} s taken as silence`,
    ];
  };
  return { ...rest, blocks, notes };
}
