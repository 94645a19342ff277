import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { detectSounds } from '../../src/dance/detect.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { type PartialSimulationOptions, simulateSound } from '../../src/simulate/index.ts';
import type { TruthTables } from '../../src/simulate/truth.ts';
import { type DetectionTables, detectionTables } from '../../src/study/detection-tables.ts';

/** The half of clips and seeds that was looked at while tuning, and the half kept for proving. */
export type Half = 'tuning' | 'proving';

/** One simulated recording with what is true of it and what was found in it. */
export interface Trial {
  readonly truth: TruthTables;
  readonly found: DetectionTables;
  readonly lengthS: number;
}

/** Even clips in order of name are for tuning, odd ones for proving; so are seeds from 2000 and from 5000 on. */
export function clipsOf(folder: string, half: Half): string[] {
  return readdirSync(folder)
    .filter((name) => name.endsWith('.wav'))
    .sort()
    .filter((_, index) => (index % 2 === 0) === (half === 'tuning'))
    .map((name) => join(folder, name));
}

export function seedOf(half: Half, index: number): number {
  return (half === 'tuning' ? 2000 : 5000) + index;
}

/**
 * Simulates and detects.
 *
 * @param change applied to the samples before they are searched (for gain, offset and the like)
 */
export async function trial(
  options: PartialSimulationOptions,
  change: (samples: Float32Array) => Float32Array = (samples) => samples,
): Promise<Trial> {
  const sound = await simulateSound(options, 'simulated.wav');
  const samples = change(sound.channels[0]!);
  const found = await detectSamples(samples, sound.sampleRateHz);
  return { truth: sound.truth, found, lengthS: samples.length / sound.sampleRateHz };
}

/** Detects in samples held in memory. */
export async function detectSamples(
  samples: Float32Array,
  sampleRateHz: number,
  blockFrames = 65_536,
): Promise<DetectionTables> {
  const detection = await detectSounds(
    [{ channel: 1, blocks: blocksOf(samples, blockFrames) }],
    sampleRateHz,
    DEFAULT_SETTINGS,
  );
  return detectionTables(detection, {
    recording: 'simulated.wav',
    stem: 'simulated',
    startTime: null,
  });
}

async function* blocksOf(samples: Float32Array, blockFrames: number): AsyncGenerator<Float32Array> {
  for (let from = 0; from < samples.length; from += blockFrames) {
    yield samples.subarray(from, from + blockFrames);
  }
}
