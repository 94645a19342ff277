import { bytesPerSample } from './encodings.ts';
import type { WaveEncoding } from './types.ts';

/**
 * Writes frames `from` up to `to` of the channels, interleaved, to the beginning of `target`. Integer
 * encodings take [-1, 1): samples are scaled by 2^(bits - 1), rounded to the nearest and clipped. Float
 * encodings take every sample as it is.
 *
 * @returns how many samples were clipped (+1 itself, one step beyond the highest value, is not counted)
 * @throws RangeError when an integer encoding meets NaN
 */
export function encodeFrames(
  target: DataView,
  encoding: WaveEncoding,
  channels: readonly Float32Array[],
  from: number,
  to: number,
): number {
  const sampleBytes = bytesPerSample[encoding];
  const frameBytes = sampleBytes * channels.length;
  const put = putters[encoding];
  let clipped = 0;
  for (const [index, samples] of channels.entries()) {
    let at = index * sampleBytes;
    for (let frame = from; frame < to; frame++, at += frameBytes) {
      const sample = samples[frame]!;
      if (sample > 1 || sample < -1) clipped++;
      put(target, at, sample);
    }
  }
  return encoding === 'float32' || encoding === 'float64' ? 0 : clipped;
}

type Putter = (target: DataView, at: number, sample: number) => void;

const putters: Readonly<Record<WaveEncoding, Putter>> = {
  pcm8: (target, at, sample) => target.setUint8(at, 128 + quantised(sample, 128)),
  pcm16: (target, at, sample) => target.setInt16(at, quantised(sample, 32768), true),
  pcm24: (target, at, sample) => {
    const value = quantised(sample, 8388608);
    target.setUint16(at, value & 0xffff, true);
    target.setInt8(at + 2, value >> 16);
  },
  pcm32: (target, at, sample) => target.setInt32(at, quantised(sample, 2147483648), true),
  float32: (target, at, sample) => target.setFloat32(at, sample, true),
  float64: (target, at, sample) => target.setFloat64(at, sample, true),
};

function quantised(sample: number, fullScale: number): number {
  const value = Math.round(sample * fullScale);
  if (value >= fullScale) return fullScale - 1;
  if (value < -fullScale) return -fullScale;
  if (Number.isNaN(value)) throw new RangeError('a sample is NaN, which integer samples cannot hold');
  return value;
}
