/**
 * Samples that can be read from any place, the same whatever the blocks they are read in. Reading before 0 or
 * past the length asked for at the making gives zeros or goes on, as the source can; it is no error.
 */
export interface SampleSource {
  readonly sampleRateHz: number;
  /** Fills the target with the samples from `firstSample` on. */
  readonly read: (firstSample: number, target: Float32Array) => Promise<void>;
  readonly close: () => Promise<void>;
}

/** Mean of squares. */
export function meanPower(samples: Float32Array): number {
  let sum = 0;
  for (const sample of samples) sum += sample * sample;
  return samples.length === 0 ? 0 : sum / samples.length;
}
