import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll } from 'vitest';
import { writeWave } from '../../src/recording/index.ts';
import { simulateSound } from '../../src/simulate/index.ts';

export const RATE_HZ = 8000;

/** A folder of its own for the tests of one file, removed after them. */
export function temporaryFolder(prefix: string): (name: string) => string {
  let folder = '';
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), `combtone-${prefix}-`));
  });
  afterAll(() => rm(folder, { recursive: true, force: true }));
  return (name) => join(folder, name);
}

/**
 * 150 s of simulated sound: two segments, with dancers about the seam. Two microphones, the second the noisier.
 *
 * @param lengthS less, and one microphone alone, where that will do
 */
export async function simulatedChannels(lengthS = 150): Promise<readonly Float32Array[]> {
  const sound = await simulateSound({
    seed: 8201,
    lengthS,
    sampleRateHz: RATE_HZ,
    snrDb: 9,
    dancesPerHour: 240,
    maxConcurrent: 2,
    microphones: lengthS < 150 ? [{}] : [{}, { gainDb: -3, delayS: 0.002, noiseDb: -3 }],
  });
  return sound.channels;
}

/** Writes samples as a recording; another gain makes other bytes of the same sound. @returns its path */
export async function recorded(path: string, channels: readonly Float32Array[], gain = 1): Promise<string> {
  const samples = gain === 1 ? channels : channels.map((channel) => channel.map((sample) => gain * sample));
  await writeWave(path, { sampleRateHz: RATE_HZ, encoding: 'pcm16', channels: samples });
  return path;
}
