import type { Random } from '../random.ts';

/** A slow change over time, about 0. */
export type Wander = (timeS: number) => number;

/** A hump of noise in the hive's spectrum. */
interface Hump {
  readonly centreHz: number;
  readonly widthHz: number;
  /** Power density over that of the noise at 300 Hz. */
  readonly rise: number;
  /** Whether it moves with the wing hum. */
  readonly isHum: boolean;
}

/** A bee fanning near the microphone: a tone with harmonics that drifts and comes and goes. */
export interface Voice {
  readonly carrierHz: number;
  readonly drift: readonly { readonly depthHz: number; readonly periodS: number; readonly phase: number }[];
  readonly levelDb: number;
  readonly levelWanderDb: Wander;
  readonly harmonics: readonly number[];
}

/** The make-up of one recording's background. Densities are one-sided, relative to the noise at 300 Hz. */
export interface HumSpectrum {
  readonly humHz: number;
  readonly rumble: { readonly rise: number; readonly cornerHz: number; readonly power: number };
  readonly fallPower: number;
  readonly humps: readonly Hump[];
  readonly voices: readonly Voice[];
  readonly noiseWanderDb: Wander;
  readonly humWanderDb: Wander;
  readonly humWanderHz: Wander;
}

/**
 * Draws a background: noise that falls with frequency, rumble below 100 Hz, wing hum at 220 to 250 Hz with
 * harmonics, humps elsewhere, and up to three fanning bees. Every recording differs in all of these.
 */
export function drawHumSpectrum(random: Random): HumSpectrum {
  const humHz = random.between(220, 252);
  const humDb = random.between(0, 14);
  const humFallDb = random.between(1, 6);
  const humWidthHz = random.between(5, 22);
  const hum = [1, 2, 3, 4].map((order) => ({
    centreHz: order * humHz,
    widthHz: humWidthHz * Math.sqrt(order),
    rise: 10 ** ((humDb - humFallDb * (order - 1) + 2 * random.normal()) / 10),
    isHum: true,
  }));
  const others = Array.from({ length: 1 + random.below(4) }, () => ({
    centreHz: random.between(90, 900),
    widthHz: random.between(10, 70),
    rise: 10 ** (random.between(-3, 10) / 10),
    isHum: false,
  }));
  return {
    humHz,
    rumble: {
      rise: 10 ** (random.between(8, 32) / 10),
      cornerHz: random.between(30, 80),
      power: random.between(4.5, 9),
    },
    fallPower: random.between(0.4, 2),
    humps: [...hum, ...others],
    voices: Array.from({ length: random.below(4) }, () => drawVoice(random)),
    noiseWanderDb: drawWander(random, random.between(0.3, 1.5), 6, 200),
    humWanderDb: drawWander(random, random.between(0.5, 3.5), 5, 120),
    humWanderHz: drawWander(random, random.between(1, 5), 10, 200),
  };
}

/** Noise of a microphone or a fan: falls with frequency and does not change. */
export function plainSpectrum(fallPower: number): HumSpectrum {
  const still = () => 0;
  return {
    humHz: 235,
    rumble: { rise: 3, cornerHz: 50, power: 4 },
    fallPower,
    humps: [],
    voices: [],
    noiseWanderDb: still,
    humWanderDb: still,
    humWanderHz: still,
  };
}

/**
 * Power density as a function of frequency, at a time. Nothing above 3700 Hz, so that every sample rate holds all
 * of it.
 */
export function densityAt(spectrum: HumSpectrum, timeS: number): (frequencyHz: number) => number {
  const { rumble, humps, fallPower, humHz } = spectrum;
  const noise = 10 ** (spectrum.noiseWanderDb(timeS) / 10);
  const hum = 10 ** (spectrum.humWanderDb(timeS) / 10);
  const stretch = 1 + spectrum.humWanderHz(timeS) / humHz;
  return (frequencyHz) => {
    if (frequencyHz < 8 || frequencyHz > 3700) return 0;
    let sum = noise * (rumble.rise / (1 + (frequencyHz / rumble.cornerHz) ** rumble.power));
    sum += noise * (Math.max(frequencyHz, 60) / 300) ** -fallPower;
    for (const hump of humps) {
      const centreHz = hump.isHum ? hump.centreHz * stretch : hump.centreHz;
      const away = (frequencyHz - centreHz) / hump.widthHz;
      if (Math.abs(away) < 6) sum += (hump.isHum ? hum : noise) * hump.rise * Math.exp(-0.5 * away * away);
    }
    return sum;
  };
}

function drawVoice(random: Random): Voice {
  const swell = drawWander(random, random.between(1, 5), 3, 40);
  const come = drawWander(random, 12, 15, 150);
  return {
    carrierHz: random.between(205, 262),
    drift: [
      { depthHz: random.between(0.5, 4), periodS: random.between(6, 40), phase: random.between(0, 7) },
      { depthHz: random.between(0.2, 1.5), periodS: random.between(0.8, 5), phase: random.between(0, 7) },
    ],
    levelDb: random.between(-16, -1),
    // Mostly there at its level or below it; away when the second wander is far down.
    levelWanderDb: (timeS) => Math.min(3, swell(timeS)) + Math.min(0, come(timeS)),
    harmonics: [1, 10 ** (random.between(-14, -2) / 20), 10 ** (random.between(-22, -8) / 20)],
  };
}

/** Three sinusoids of unrelated periods; `spread` is about the SD. */
function drawWander(random: Random, spread: number, shortestS: number, longestS: number): Wander {
  const parts = Array.from({ length: 3 }, () => ({
    rate: (2 * Math.PI) / (shortestS * (longestS / shortestS) ** random.uniform()),
    phase: random.between(0, 2 * Math.PI),
  }));
  const depth = spread * Math.sqrt(2 / 3);
  return (timeS) => {
    let sum = 0;
    for (const { rate, phase } of parts) sum += Math.sin(rate * timeS + phase);
    return depth * sum;
  };
}
