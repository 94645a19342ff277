import { type Random, seededRandom } from '../../src/random.ts';

/** The analysis rate, at which made sound is laid. */
export const RATE_HZ = 2000;

/** A made pulse train: where, and how strong against white noise of variance 1. */
export interface MadeTrain {
  readonly startS: number;
  readonly pulseCount: number;
  readonly carrierHz: number;
  readonly beatS?: number;
  /** Length of a pulse, raised cosine over a quarter of it at either end. */
  readonly pulseS?: number;
  /** Mean power of a pulse while it sounds over the noise power in 200 to 400 Hz, dB. */
  readonly snrDb?: number;
  /** Spread of the beat, as a share of it. */
  readonly jitter?: number;
}

export const BEAT_S = 0.05;
export const PULSE_S = 0.025;

/** Seconds of white noise of variance 1: its power in 200 to 400 Hz is 200 / 1000. */
export function whiteNoise(seed: number, lengthS: number): Float32Array {
  const random = seededRandom(seed);
  return Float32Array.from({ length: Math.round(lengthS * RATE_HZ) }, () => random.normal());
}

/**
 * Adds a train to samples at 2000 Hz.
 *
 * @returns the middles of its pulses, s
 */
export function addTrain(samples: Float32Array, train: MadeTrain, random: Random): number[] {
  const {
    startS,
    pulseCount,
    carrierHz,
    beatS = BEAT_S,
    pulseS = PULSE_S,
    snrDb = 10,
    jitter = 0.03,
  } = train;
  const middles: number[] = [];
  let middleS = startS + pulseS / 2;
  for (let pulse = 0; pulse < pulseCount; pulse++) {
    addTone(samples, middleS - pulseS / 2, pulseS, carrierHz, snrDb, random.between(0, 2 * Math.PI));
    middles.push(middleS);
    middleS += beatS * (1 + jitter * random.normal());
  }
  return middles;
}

/** Adds one unbroken tone whose mean power stands so far over the noise in 200 to 400 Hz. */
export function addTone(
  samples: Float32Array,
  startS: number,
  lengthS: number,
  carrierHz: number,
  snrDb: number,
  phase = 0,
): void {
  const flankS = Math.min(0.25 * lengthS, 0.02);
  const envelope = (t: number) => {
    const edge = Math.min(t, lengthS - t);
    return edge <= 0 ? 0 : edge >= flankS ? 1 : 0.5 - 0.5 * Math.cos((Math.PI * edge) / flankS);
  };
  // The mean square of a raised-cosine flank is 3/8.
  const meanSquare = (lengthS - 2 * flankS + (2 * flankS * 3) / 8) / lengthS;
  const amplitude = Math.sqrt((2 * 0.2 * 10 ** (snrDb / 10)) / meanSquare);
  const first = Math.max(0, Math.ceil(startS * RATE_HZ));
  for (let n = first; n < Math.min(samples.length, (startS + lengthS) * RATE_HZ); n++) {
    const t = n / RATE_HZ - startS;
    samples[n]! += amplitude * envelope(t) * Math.sin(2 * Math.PI * carrierHz * t + phase);
  }
}
