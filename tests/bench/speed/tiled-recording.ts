import { createWaveWriter } from '../../../src/recording/index.ts';
import { simulateSound } from '../../../src/simulate/index.ts';

const RATE_HZ = 44_100;
const STRETCH_S = 300;

/**
 * Gives a function that writes 16-bit mono recordings at 44.1 kHz of any length: five simulated minutes of a
 * busy hive, over and over, since simulating hours would take longer than measuring them.
 */
export function recordingTiler(): (path: string, lengthS: number) => Promise<void> {
  let stretch: Promise<Float32Array> | undefined;
  return async (path, lengthS) => {
    stretch ??= simulateSound({
      seed: 9001,
      lengthS: STRETCH_S,
      sampleRateHz: RATE_HZ,
      snrDb: 8,
      dancesPerHour: 100,
      maxConcurrent: 2,
    }).then(({ channels }) => channels[0]!);
    const samples = await stretch;
    const writer = await createWaveWriter(path, {
      sampleRateHz: RATE_HZ,
      channelCount: 1,
      encoding: 'pcm16',
    });
    try {
      let left = Math.round(lengthS * RATE_HZ);
      while (left > 0) {
        const block = samples.subarray(0, Math.min(left, samples.length));
        await writer.write([block]);
        left -= block.length;
      }
      await writer.finish();
    } catch (error) {
      await writer.abort();
      throw error;
    }
  };
}
