import FFT from 'fft.js';

import { seededRandom } from '../random.ts';
import { densityAt, drawHumSpectrum, type HumSpectrum, plainSpectrum, type Voice } from './hum-spectrum.ts';
import { createInterpolator } from './resample.ts';
import type { SampleSource } from './sample-source.ts';

/** Made at this rate and interpolated to any other, so that the sound does not depend on the sample rate. */
const BASE_RATE_HZ = 8000;
const TRANSFORM = 32_768;
const HOP = TRANSFORM / 2;
/** The spectrum is reckoned at every so many bins and taken as straight between. */
const COARSE = 8;
/** Phases of voices are reckoned at every so many samples and taken as straight between. */
const GRID = 64;

/**
 * Background of a simulated hive, for any length.
 *
 * @param levelDb RMS in dB of full scale; null draws one from −45 to −25
 */
export function syntheticBackground(
  seed: number,
  levelDb: number | null,
  sampleRateHz: number,
): SampleSource {
  const random = seededRandom(seed);
  const spectrum = drawHumSpectrum(random);
  const drawnDb = random.between(-45, -25);
  const scale = 10 ** ((levelDb ?? drawnDb) / 20) / Math.sqrt(spectrumPower(spectrum, 0, 4000));
  return atRate(baseSource(seed, spectrum, scale), sampleRateHz);
}

/** Steady noise that falls with frequency, with a power of 1 in 200 to 400 Hz. */
export function plainNoise(seed: number, fallPower: number, sampleRateHz: number): SampleSource {
  const spectrum = plainSpectrum(fallPower);
  const scale = 1 / Math.sqrt(spectrumPower(spectrum, 200, 400));
  return atRate(baseSource(seed, spectrum, scale), sampleRateHz);
}

/** Power of the spectrum's noise between two frequencies, without its wander. */
function spectrumPower(spectrum: HumSpectrum, lowHz: number, highHz: number): number {
  const still = { ...spectrum, noiseWanderDb: () => 0, humWanderDb: () => 0, humWanderHz: () => 0 };
  const density = densityAt(still, 0);
  let sum = 0;
  for (let frequencyHz = lowHz + 0.5; frequencyHz < highHz; frequencyHz++) sum += density(frequencyHz);
  return sum;
}

/**
 * Noise in overlapping stretches: each is the transform of a random spectrum of the wanted shape, under a sine
 * window; two neighbours overlap by half, so that their powers add up to the wanted one everywhere.
 */
function baseSource(seed: number, spectrum: HumSpectrum, scale: number): SampleSource {
  const transform = new FFT(TRANSFORM);
  const stretches = lastFew(3, (index: number) => noiseStretch(transform, seed, index, spectrum, scale));
  const bandPower = spectrumPower(spectrum, 200, 400);
  const segments = lastFew(4, (index: number) => {
    const before = stretches(index);
    const after = stretches(index + 1);
    const segment = new Float32Array(HOP);
    for (let sample = 0; sample < HOP; sample++) segment[sample] = before[HOP + sample]! + after[sample]!;
    for (const voice of spectrum.voices) addVoice(voice, segment, index * HOP, scale * Math.sqrt(bandPower));
    return segment;
  });
  const read = async (firstSample: number, target: Float32Array): Promise<void> => {
    for (let done = 0; done < target.length; ) {
      const place = firstSample + done;
      const index = Math.floor(place / HOP);
      const offset = place - index * HOP;
      const count = Math.min(HOP - offset, target.length - done);
      target.set(segments(index).subarray(offset, offset + count), done);
      done += count;
    }
  };
  return { sampleRateHz: BASE_RATE_HZ, read, close: async () => {} };
}

/** Samples (index − 1) HOP to (index + 1) HOP of one stretch. */
function noiseStretch(
  transform: FFT,
  seed: number,
  index: number,
  spectrum: HumSpectrum,
  scale: number,
): Float32Array {
  const random = seededRandom(mixedSeed(seed, index));
  const input = new Float64Array(2 * TRANSFORM);
  const output = new Float64Array(2 * TRANSFORM);
  const binHz = BASE_RATE_HZ / TRANSFORM;
  const density = densityAt(spectrum, (index * HOP) / BASE_RATE_HZ);
  // A coefficient c = a + ib with a, b uniform on ±√1.5 has a mean square of 1.
  const reach = 2 * Math.sqrt(1.5);
  let next = density(0);
  for (let coarse = 0; coarse < TRANSFORM / 2; coarse += COARSE) {
    const here = next;
    next = density((coarse + COARSE) * binHz);
    for (let inner = 0; inner < COARSE; inner++) {
      const level = here + ((next - here) * inner) / COARSE;
      const amplitude = scale * Math.sqrt(2 * level * binHz) * reach;
      input[2 * (coarse + inner)] = amplitude * (random.uniform() - 0.5);
      input[2 * (coarse + inner) + 1] = amplitude * (random.uniform() - 0.5);
    }
  }
  // fft.js takes any array-like of numbers.
  transform.transform(output as unknown as number[], input as unknown as number[]);
  const stretch = new Float32Array(TRANSFORM);
  for (let sample = 0; sample < TRANSFORM; sample++) {
    stretch[sample] = output[2 * sample]! * Math.sin((Math.PI * (sample + 0.5)) / TRANSFORM);
  }
  return stretch;
}

/** Adds a fanning bee; levelDb is relative to `reference`, the amplitude of the noise in 200 to 400 Hz. */
function addVoice(voice: Voice, segment: Float32Array, firstSample: number, reference: number): void {
  const amplitudeAt = (timeS: number) =>
    reference * Math.SQRT2 * 10 ** ((voice.levelDb + voice.levelWanderDb(timeS)) / 20);
  const [first, second, third] = voice.harmonics as [number, number, number];
  for (let start = 0; start < segment.length; start += GRID) {
    const fromS = (firstSample + start) / BASE_RATE_HZ;
    const toS = (firstSample + start + GRID) / BASE_RATE_HZ;
    const phase = voicePhase(voice, fromS);
    const phaseStep = (voicePhase(voice, toS) - phase) / GRID;
    const amplitude = amplitudeAt(fromS);
    const amplitudeStep = (amplitudeAt(toS) - amplitude) / GRID;
    for (let inner = 0; inner < GRID; inner++) {
      const sine = Math.sin(phase + phaseStep * inner);
      const cosine = Math.cos(phase + phaseStep * inner);
      // sin 2x and sin 3x from sin x and cos x.
      const wave = first * sine + second * 2 * sine * cosine + third * sine * (3 - 4 * sine * sine);
      segment[start + inner]! += (amplitude + amplitudeStep * inner) * wave;
    }
  }
}

/** Integral of 2 pi f(t), with f(t) = carrier + sum of depth sin(2 pi t / period + phase). */
function voicePhase(voice: Voice, timeS: number): number {
  let cycles = voice.carrierHz * timeS;
  for (const { depthHz, periodS, phase } of voice.drift) {
    cycles -= ((depthHz * periodS) / (2 * Math.PI)) * Math.cos((2 * Math.PI * timeS) / periodS + phase);
  }
  return 2 * Math.PI * cycles;
}

function atRate(base: SampleSource, sampleRateHz: number): SampleSource {
  if (base.sampleRateHz === sampleRateHz) return base;
  const { reach, fill } = createInterpolator(base.sampleRateHz, sampleRateHz);
  const read = async (firstSample: number, target: Float32Array): Promise<void> => {
    const ratio = base.sampleRateHz / sampleRateHz;
    const firstInput = Math.floor(firstSample * ratio) - reach;
    const lastInput = Math.ceil((firstSample + target.length) * ratio) + reach;
    const input = new Float32Array(lastInput - firstInput + 1);
    await base.read(firstInput, input);
    fill(firstSample, target, firstInput, input);
  };
  return { sampleRateHz, read, close: base.close };
}

/** Keeps the last few results of a costly function. */
function lastFew(count: number, make: (index: number) => Float32Array): (index: number) => Float32Array {
  const kept = new Map<number, Float32Array>();
  return (index) => {
    const known = kept.get(index);
    if (known !== undefined) return known;
    const made = make(index);
    kept.set(index, made);
    if (kept.size > count) kept.delete(kept.keys().next().value!);
    return made;
  };
}

/** A seed of its own for each stretch (multiplicative mixing of two 32-bit numbers). */
function mixedSeed(seed: number, index: number): number {
  let mixed = (seed ^ Math.imul(index + 0x7f4a, 0x9e3779b1)) | 0;
  mixed = Math.imul(mixed ^ (mixed >>> 16), 0x85ebca6b);
  mixed = Math.imul(mixed ^ (mixed >>> 13), 0xc2b2ae35);
  return mixed ^ (mixed >>> 16);
}
