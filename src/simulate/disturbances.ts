import type { Random } from '../random.ts';
import type { Disturbance } from './options.ts';
import type { SampleSource } from './sample-source.ts';
import { plainNoise } from './synthetic-background.ts';

/** Steady tones and noise that disturb a whole recording, added to what the microphones hear. */
export interface SteadyDisturbance {
  readonly tones: readonly {
    readonly frequencyHz: number;
    readonly amplitude: number;
    readonly phase: number;
  }[];
  /** Noise with a power of 1 in 200 to 400 Hz, and its factor; null for none. */
  readonly noise: { readonly source: SampleSource; readonly factor: number } | null;
}

/** Mains hum and fan noise. @param medianPower what their levels are relative to */
export function steadyDisturbances(
  disturbances: readonly Disturbance[],
  medianPower: number,
  sampleRateHz: number,
  random: Random,
): SteadyDisturbance[] {
  return disturbances.flatMap((disturbance): SteadyDisturbance[] => {
    if (disturbance.kind === 'mains') {
      const amplitude = Math.sqrt(2 * medianPower * 10 ** (disturbance.levelDb / 10));
      // The mains never keeps its frequency exactly.
      const frequencyHz = disturbance.frequencyHz + 0.04 * random.normal();
      const falls = [0, -8, -4, -14, -8, -18, -12, -20];
      return [{ tones: toneLine(falls, frequencyHz, amplitude, random), noise: null }];
    }
    if (disturbance.kind === 'fan') {
      const factor = Math.sqrt(medianPower * 10 ** (disturbance.levelDb / 10));
      const frequencyHz = random.between(60, 160);
      const source = plainNoise(random.below(2 ** 32), random.between(0.5, 1.5), sampleRateHz);
      return [
        {
          tones: toneLine([2, -2, -5, -8, -11], frequencyHz, factor, random),
          noise: { source, factor },
        },
      ];
    }
    return [];
  });
}

/** Adds steady disturbances to a block. */
export async function addSteady(
  steady: readonly SteadyDisturbance[],
  target: Float32Array,
  firstSample: number,
  sampleRateHz: number,
): Promise<void> {
  for (const { tones, noise } of steady) {
    for (const { frequencyHz, amplitude, phase } of tones) {
      const turn = (2 * Math.PI * frequencyHz) / sampleRateHz;
      for (let index = 0; index < target.length; index++) {
        target[index]! += amplitude * Math.sin(turn * (firstSample + index) + phase);
      }
    }
    if (noise !== null) {
      const block = new Float32Array(target.length);
      await noise.source.read(firstSample, block);
      for (let index = 0; index < target.length; index++) target[index]! += noise.factor * block[index]!;
    }
  }
}

/**
 * Applies, in this order whatever the order they were asked for: the step in gain, gain, polarity, DC offset,
 * clipping, dropouts.
 *
 * @param drive the gain at which clipping takes the wanted share of samples; null for no clipping
 */
export function applyDisturbances(
  disturbances: readonly Disturbance[],
  target: Float32Array,
  firstSample: number,
  sampleRateHz: number,
  lengthS: number,
  drive: number | null,
  dropouts: readonly (readonly [number, number])[],
): void {
  const half = Math.round((lengthS * sampleRateHz) / 2);
  let [gain, step, offset] = [1, 1, 0];
  for (const disturbance of disturbances) {
    if (disturbance.kind === 'gain') gain *= disturbance.factor;
    if (disturbance.kind === 'inverted') gain *= -1;
    if (disturbance.kind === 'gain-step') step *= disturbance.factor;
    if (disturbance.kind === 'dc-offset') offset += disturbance.offset;
  }
  if (gain !== 1 || step !== 1 || offset !== 0) {
    for (let index = 0; index < target.length; index++) {
      target[index] = target[index]! * gain * (firstSample + index < half ? 1 : step) + offset;
    }
  }
  if (drive !== null) {
    for (let index = 0; index < target.length; index++) {
      target[index] = Math.max(-1, Math.min(CEILING, target[index]! * drive));
    }
  }
  for (const [fromS, toS] of dropouts) {
    const from = Math.max(0, Math.round(fromS * sampleRateHz) - firstSample);
    const to = Math.min(target.length, Math.round(toS * sampleRateHz) - firstSample);
    if (from < to) target.fill(0, from, to);
  }
}

/** The largest value a 16-bit sample holds. */
const CEILING = 32_767 / 32_768;

function toneLine(fallsDb: readonly number[], frequencyHz: number, amplitude: number, random: Random) {
  return fallsDb.map((fallDb, index) => ({
    frequencyHz: (index + 1) * frequencyHz,
    amplitude: amplitude * 10 ** ((fallDb + (index === 0 ? 0 : 2 * random.normal())) / 20),
    phase: random.between(0, 2 * Math.PI),
  }));
}
