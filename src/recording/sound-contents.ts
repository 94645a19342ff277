import type { SoundFormat } from './file-kind.ts';
import type { WaveEncoding } from './types.ts';

/** Frames `startFrame` up to `endFrame`, so many at a time. */
export interface FrameRange {
  readonly startFrame: number;
  readonly endFrame: number;
  readonly blockFrames: number;
}

/** What each format's reader gives: what is known of the sound, and the sound itself in blocks. */
export interface SoundContents {
  readonly format: SoundFormat;
  readonly sampleRateHz: number;
  readonly channelCount: number;
  /** How samples are stored; of lossy formats, as what they are decoded. */
  readonly encoding: WaveEncoding;
  readonly frameCount: number;
  /** Wall-clock start time that the file itself tells. */
  readonly bextTime: string | null;
  readonly warnings: readonly string[];
  /**
   * Blocks of one channel, from 0.
   *
   * @param look sees, and may change, every run of samples once, with the frame it begins with
   */
  readonly blocks: (
    channelIndex: number,
    range: FrameRange,
    look: ((startFrame: number, samples: Float32Array) => void) | null,
  ) => AsyncGenerator<Float32Array>;
  /** What came to light while the sound was read, one line each. */
  readonly notes: () => readonly string[];
}
