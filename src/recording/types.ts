import type { SoundFormat } from './file-kind.ts';

/** How one sample is stored. Integers are little-endian; 8-bit integers are unsigned, the others signed. */
export type WaveEncoding = 'pcm8' | 'pcm16' | 'pcm24' | 'pcm32' | 'float32' | 'float64';

/** Where a start time was found. */
export type StartTimeSource = 'bext' | 'file name' | 'option';

/** What is known of a recording before its samples are read. */
export interface RecordingInfo {
  /** The path as the user gave it. */
  readonly path: string;
  readonly format: SoundFormat;
  readonly sampleRateHz: number;
  readonly channelCount: number;
  /** Frames (one sample of every channel) that can really be read, whatever the header says. */
  readonly frameCount: number;
  readonly durationS: number;
  readonly encoding: WaveEncoding;
  /** ISO 8601 with offset when the offset is known, else local wall-clock time such as `2025-06-14T09:30:00`. */
  readonly startTime: string | null;
  readonly startTimeSource: StartTimeSource | null;
  /** One line each: what was wrong with the file and what was done about it. */
  readonly warnings: readonly string[];
}

/** Which frames to read, and how many at a time. */
export interface BlockOptions {
  /** Frames per block; the last block may be shorter. Default 65536. */
  readonly blockFrames?: number;
  /** First frame, from 0. Default 0. */
  readonly startFrame?: number;
  /** Frame after the last. Default, and at most, the frame count. */
  readonly endFrame?: number;
}

/** An open recording. */
export interface Recording {
  readonly info: RecordingInfo;
  /**
   * Blocks of one channel, in order. A block is valid only until the next one is asked for. Integer samples
   * are scaled to [-1, 1) with 0 as silence; float samples are taken as they are.
   *
   * @param channel from 1
   * @throws InputError when the recording has no such channel, or the file ends before its time
   */
  readonly blocks: (channel: number, options?: BlockOptions) => AsyncGenerator<Float32Array>;
  /**
   * What was remarkable in what was read so far, one line each: that the file is still being written, damage in
   * compressed sound, float samples beyond ±1, NaN or infinite.
   */
  readonly notes: () => readonly string[];
  /** Gives the file back. Blocks cannot be asked for afterwards. */
  readonly close: () => Promise<void>;
}

/** What a recording is opened with. */
export interface OpenOptions {
  /** Start of the recording, ISO 8601, used when neither the file nor its name tells it. */
  readonly startTime?: string;
}
