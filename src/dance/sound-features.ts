import meyda from 'meyda';

// The package is CommonJS whose declarations describe an ES module: what arrives is the default export itself.
const Meyda = meyda as unknown as typeof meyda.default;

/** How a short stretch of sound is spread over frequency. */
export interface SoundFeatures {
  /** Geometric over arithmetic mean of the amplitude spectrum, 0 (a tone) to 1 (level). */
  readonly flatness: number;
  /** Centre of gravity of the amplitude spectrum, Hz. */
  readonly centroidHz: number;
  /** Largest over root-mean-square of the amplitude spectrum. */
  readonly crest: number;
}

const BUFFER = 256;

/**
 * Spectral features, by meyda, of the 256 analysis samples (about 0.13 s) around a moment; samples outside the
 * stretch count as zero.
 *
 * @param centreS moment, s from the first sample
 */
export function soundFeatures(samples: Float32Array, sampleRateHz: number, centreS: number): SoundFeatures {
  const buffer = new Float32Array(BUFFER);
  const from = Math.round(centreS * sampleRateHz) - BUFFER / 2;
  let largest = 0;
  for (let n = 0; n < BUFFER; n++) {
    const value = samples[from + n] ?? 0;
    buffer[n] = value;
    largest = Math.max(largest, Math.abs(value));
  }
  if (largest === 0) return { flatness: 1, centroidHz: 0, crest: 1 };
  // Scaled, so that the recorder's gain and the arithmetic's smallest numbers have no say.
  for (let n = 0; n < BUFFER; n++) buffer[n]! /= largest;
  Meyda.bufferSize = BUFFER;
  Meyda.sampleRate = sampleRateHz;
  const features = Meyda.extract(['spectralFlatness', 'spectralCentroid', 'spectralCrest'], buffer);
  const binHz = sampleRateHz / BUFFER;
  return {
    flatness: features?.spectralFlatness ?? 1,
    centroidHz: (features?.spectralCentroid ?? 0) * binHz,
    crest: features?.spectralCrest ?? 1,
  };
}
