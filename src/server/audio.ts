import { encodeFrames } from '../recording/encode.ts';
import type { WaveEncoding } from '../recording/index.ts';
import { waveHeader } from '../recording/wave-header.ts';
import { readSamples, type SoundFiles } from './sound-files.ts';

/**
 * One channel of a stretch of a recording as a WAVE file in memory, at the recording's own rate: 16-bit where the
 * recording holds no more, else 32-bit float.
 *
 * @throws the signal's reason when given up; InputError when the recording cannot be read
 */
export async function audioExcerpt(
  files: SoundFiles,
  asked: {
    readonly recordingId: number;
    readonly channel: number;
    readonly from: number;
    readonly to: number;
  },
  signal: AbortSignal,
): Promise<Buffer> {
  const recording = await files.open(asked.recordingId);
  const { sampleRateHz, frameCount, encoding } = recording.info;
  const from = Math.min(frameCount, Math.floor(asked.from * sampleRateHz));
  const to = Math.min(frameCount, Math.ceil(asked.to * sampleRateHz));
  const samples = await readSamples(recording, asked.channel, from, to, signal);
  const kept: WaveEncoding = encoding === 'pcm8' || encoding === 'pcm16' ? 'pcm16' : 'float32';
  const shape = { sampleRateHz, channelCount: 1, encoding: kept, bextTime: null };
  const header = waveHeader(shape, samples.length);
  const bytes = Buffer.alloc(header.byteLength + samples.length * (kept === 'pcm16' ? 2 : 4));
  bytes.set(header);
  const body = new DataView(bytes.buffer, bytes.byteOffset + header.byteLength);
  encodeFrames(body, kept, [samples], 0, samples.length);
  return bytes;
}
