import type { Random } from '../random.ts';
import { normalWithin } from './draws.ts';
import type { Bee } from './options.ts';

/**
 * Draws dancers. What is fixed for a bee differs between bees over the published ranges: carrier 215 to 320 Hz
 * (Nieh & Tautz 2000, J Exp Biol 203:1573: 206 to 292 Hz; Michelsen et al. 1986, Behav Ecol Sociobiol 18:207:
 * about 280 Hz), pulse rate near 13 to 16 or near 26 to 32 per s by study, or anywhere from 12 to 35 (from
 * memory: Wenner 1962; Michelsen et al. 1987; Griffin & Taft 1992), pulse length 15 to 30 ms (from memory).
 *
 * @param beeSdS SD between bees of their run durations, s
 */
export function planBees(count: number, beeSdS: number, random: Random): Bee[] {
  return Array.from({ length: count }, (_, index) => planBee(index, beeSdS, random));
}

function planBee(index: number, beeSdS: number, random: Random): Bee {
  const carrierHz =
    random.uniform() < 0.6 ? normalWithin(random, 255, 25, 215, 320) : random.between(215, 320);
  const pulseRateHz = drawPulseRate(random);
  const pulseLengthS = Math.min(random.between(0.015, 0.03), 0.7 / pulseRateHz);
  return {
    beeId: `bee-${String(index + 1).padStart(2, '0')}`,
    carrierHz,
    pulseRateHz,
    pulseLengthS,
    ...drawShape(random),
    continuousPhase: random.uniform() < 0.5,
    secondHarmonicDb: random.between(-20, -6),
    secondHarmonicPhase: random.between(0, 2 * Math.PI),
    glideHzPerS: 250 * random.normal(),
    periodJitter: random.between(0.03, 0.08),
    dropoutShare: random.uniform() < 0.4 ? 0 : random.between(0, 0.06),
    alternationDb: random.uniform() < 0.7 ? 0 : random.between(0, 3),
    levelTrendSdDb: random.between(0, 3),
    durationOffsetS: beeSdS * random.normal(),
    returnFactor: Math.exp(0.1 * random.normal()),
  };
}

function drawPulseRate(random: Random): number {
  const type = random.uniform();
  if (type < 0.4) return random.between(13, 16);
  if (type < 0.75) return random.between(26, 32);
  return random.between(12, 35);
}

function drawShape(random: Random): Pick<Bee, 'pulseShape' | 'riseShare' | 'fallShare'> {
  const type = random.uniform();
  if (type < 0.35) return { pulseShape: 'cosine', riseShare: 0.5, fallShare: 0.5 };
  if (type < 0.7) {
    const taper = random.between(0.08, 0.45);
    return { pulseShape: 'flat', riseShare: taper, fallShare: taper };
  }
  const riseShare = random.between(0.08, 0.25);
  return { pulseShape: 'decaying', riseShare, fallShare: random.between(0.5, 1) * (1 - riseShare) };
}
