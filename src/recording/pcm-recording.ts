import { frameBlocks } from './blocks.ts';
import type { ByteSource } from './byte-source.ts';
import type { PieceConverter } from './convert.ts';
import type { SoundFormat } from './file-kind.ts';
import type { FrameRange, SoundContents } from './sound-contents.ts';
import type { WaveEncoding } from './types.ts';

/** What the header of a file with uncompressed samples says, checked. */
export interface PcmContents {
  readonly format: SoundFormat;
  readonly sampleRateHz: number;
  readonly channelCount: number;
  readonly encoding: WaveEncoding;
  readonly frameBytes: number;
  readonly frameCount: number;
  /** The frames and nothing else. */
  readonly sound: ByteSource;
  /** What takes pieces of the sound to samples of one channel, from 0. */
  readonly converter: (channelIndex: number) => PieceConverter;
  /** Wall-clock start time of the bext chunk, when there is one. */
  readonly bextTime: string | null;
  readonly warnings: readonly string[];
}

/** Uncompressed sound, block by block. */
export function pcmSound(contents: PcmContents): SoundContents {
  const { sound, frameBytes, converter, ...rest } = contents;
  const blocks = (
    channelIndex: number,
    range: FrameRange,
    look: ((startFrame: number, samples: Float32Array) => void) | null,
  ) => frameBlocks({ source: sound, soundAt: 0, frameBytes }, range, converter(channelIndex), look);
  return { ...rest, blocks, notes: () => [] };
}
