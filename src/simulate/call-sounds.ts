import type { Random } from '../random.ts';
import { audibleBounds, type Envelope, envelopeLengthS, envelopeOfAudibleLength } from './envelope.ts';
import type { Partial, Sound } from './sound.ts';

/** A sound that begins (onset) at 0 s, without level or place; a series of them makes up one call. */
export interface CallSound {
  readonly onsetS: number;
  readonly envelope: Envelope;
  readonly partials: readonly Partial[];
  readonly levelDb: number;
}

/** One call of some kind: its sounds, and its carrier where it has one. */
export interface CallShape {
  readonly sounds: readonly CallSound[];
  readonly carrierHz: number | null;
}

/**
 * Begging call: 60 to 200 ms, 300 to 410 Hz, sharp onset, bent a little up or down (about 320 Hz: Michelsen,
 * Kirchner & Lindauer 1986, Behav Ecol Sociobiol 18:207; the later range and length from memory, Nieh 1993 and
 * 2010).
 */
export function beggingCall(random: Random): CallShape {
  const carrierHz = random.uniform() < 0.5 ? random.between(305, 345) : random.between(300, 410);
  const lengthS = random.between(0.06, 0.2);
  const bendHz = carrierHz * random.between(-0.08, 0.08);
  const envelope = envelopeOfAudibleLength(
    lengthS,
    random.between(0.02, 0.08),
    random.between(0.1, 0.5),
    'cosine',
  );
  return { carrierHz, sounds: [voiced(random, 0, envelope, carrierHz, bendHz, random.between(-14, -4), 0)] };
}

/**
 * Worker piping: about 1 s, fundamental 330 to 430 Hz, little modulation (Pratt, Kühnholz, Seeley &
 * Weidenmüller 1996, Apidologie 27:13).
 */
export function workerPiping(random: Random): CallShape {
  const carrierHz = random.between(330, 430);
  const envelope = envelopeOfAudibleLength(
    random.between(0.6, 1.2),
    0.05,
    random.between(0.05, 0.2),
    'cosine',
  );
  const bendHz = carrierHz * random.between(-0.01, 0.03);
  return { carrierHz, sounds: [voiced(random, 0, envelope, carrierHz, bendHz, random.between(-12, -2), 0)] };
}

/**
 * Queen tooting: one or two pulses of about 1 s that rise in level and frequency, then 7 to 17 pulses of about
 * 0.25 s, 400 to 500 Hz (Michelsen et al. 1986, J Comp Physiol A 158:605).
 */
export function queenTooting(random: Random): CallShape {
  const carrierHz = random.between(400, 500);
  const sounds: CallSound[] = [];
  const harmonicDb = random.between(-12, -3);
  let onsetS = 0;
  const longCount = 1 + random.below(2);
  for (let index = 0; index < longCount; index++) {
    const lengthS = random.between(0.8, 1.2);
    const envelope = envelopeOfAudibleLength(lengthS, 0.7, 0.1, 'cosine');
    const bendHz = carrierHz * random.between(0.03, 0.08);
    sounds.push(voiced(random, onsetS, envelope, carrierHz - bendHz / 2, bendHz, harmonicDb, 0));
    onsetS += lengthS + random.between(0.15, 0.3);
  }
  const shortCount = 7 + random.below(11);
  for (let index = 0; index < shortCount; index++) {
    const lengthS = 0.25 * (1 + 0.08 * random.normal());
    const envelope = envelopeOfAudibleLength(lengthS, 0.15, 0.15, 'cosine');
    sounds.push(
      voiced(random, onsetS, envelope, carrierHz * 1.01, carrierHz * 0.02, harmonicDb, random.normal()),
    );
    onsetS += lengthS + random.between(0.1, 0.2);
  }
  return { carrierHz, sounds };
}

/** Queen quacking: 4 to 15 pulses of 0.1 to 0.19 s, about 350 Hz, 5 to 8 per s (the same source). */
export function queenQuacking(random: Random): CallShape {
  const carrierHz = random.between(320, 385);
  const rateHz = random.between(5, 8);
  const lengthS = Math.min(random.between(0.1, 0.19), 0.85 / rateHz);
  const harmonicDb = random.between(-10, -2);
  const count = 4 + random.below(12);
  const sounds = Array.from({ length: count }, (_, index) => {
    const envelope = envelopeOfAudibleLength(lengthS * (1 + 0.05 * random.normal()), 0.15, 0.25, 'cosine');
    const onsetS = index === 0 ? 0 : (index + 0.03 * random.normal()) / rateHz;
    return voiced(random, onsetS, envelope, carrierHz, 0.02 * carrierHz, harmonicDb, random.normal());
  });
  return { carrierHz, sounds };
}

/** Knock: a broadband click that dies away within 5 to 40 ms. */
export function knock(random: Random): CallShape {
  const lengthS = random.between(0.005, 0.04);
  const lowHz = random.between(60, 300);
  const partials = noisePartials(random, 40, lowHz, random.between(900, 3600), random.between(-6, 0));
  const envelope = envelopeOfAudibleLength(lengthS, 0.04, 0.96, 'exponential');
  return { carrierHz: null, sounds: [{ onsetS: 0, envelope, partials, levelDb: 0 }] };
}

/** Brief buzz: a noisy burst at the pitch of the hum, 0.1 to 1 s, with a weaker band at twice the pitch. */
export function briefBuzz(random: Random): CallShape {
  const pitchHz = random.between(200, 260);
  const widthHz = random.between(6, 60);
  const second = 10 ** (random.between(-14, -3) / 20);
  const partials = [
    ...noisePartials(random, 40, pitchHz - widthHz / 2, pitchHz + widthHz / 2, 0),
    ...noisePartials(random, 30, 2 * pitchHz - widthHz, 2 * pitchHz + widthHz, 0).map((partial) => ({
      ...partial,
      amplitude: partial.amplitude * second,
    })),
  ];
  const envelope = envelopeOfAudibleLength(
    random.between(0.1, 1),
    random.between(0.05, 0.4),
    random.between(0.05, 0.4),
    'cosine',
  );
  return { carrierHz: pitchHz, sounds: [{ onsetS: 0, envelope, partials, levelDb: 0 }] };
}

/** Short hiss: a burst of high noise. */
export function shortHiss(random: Random): CallShape {
  const partials = noisePartials(random, 90, random.between(400, 1200), random.between(3000, 9000), 0);
  const envelope = envelopeOfAudibleLength(random.between(0.1, 0.6), 0.2, 0.4, 'cosine');
  return { carrierHz: null, sounds: [{ onsetS: 0, envelope, partials, levelDb: 0 }] };
}

/** Sinusoids of random frequency and phase: noise of a band, its level falling by so many dB per octave. */
export function noisePartials(
  random: Random,
  count: number,
  lowHz: number,
  highHz: number,
  dbPerOctave: number,
): Partial[] {
  // One frequency per equal slice, anywhere in it, so that the band is filled evenly.
  const sliceHz = (highHz - lowHz) / count;
  return Array.from({ length: count }, (_, index) => {
    const frequencyHz = lowHz + (index + random.uniform()) * sliceHz;
    const levelDb = dbPerOctave * Math.log2(frequencyHz / lowHz);
    return {
      frequencyHz,
      glideHzPerS: 0,
      amplitude: 10 ** (levelDb / 20),
      phase: random.between(0, 2 * Math.PI),
    };
  });
}

/** Places a call's sounds in a recording. */
export function placeCall(shape: CallShape, startS: number, group: number): Sound[] {
  return shape.sounds.map(({ onsetS, envelope, partials, levelDb }) => ({
    startS: startS + onsetS - audibleBounds(envelope).onsetS,
    envelope,
    partials,
    gain: 10 ** (levelDb / 20),
    group,
  }));
}

/** From the onset of a call's first sound to the latest offset, s. */
export function callLengthS(shape: CallShape): number {
  return Math.max(
    ...shape.sounds.map(({ onsetS, envelope }) => {
      const bounds = audibleBounds(envelope);
      return onsetS + bounds.offsetS - bounds.onsetS;
    }),
  );
}

/** A voiced sound: a fundamental that moves evenly by bendHz, and harmonics that fall off by harmonicDb each. */
function voiced(
  random: Random,
  onsetS: number,
  envelope: Envelope,
  carrierHz: number,
  bendHz: number,
  harmonicDb: number,
  levelDb: number,
): CallSound {
  const lengthS = envelopeLengthS(envelope);
  const partials = Array.from({ length: 5 }, (_, index) => ({
    frequencyHz: (index + 1) * (carrierHz - bendHz / 2),
    glideHzPerS: ((index + 1) * bendHz) / lengthS,
    amplitude: 10 ** ((index * harmonicDb + (index === 0 ? 0 : 2 * random.normal())) / 20),
    phase: random.between(0, 2 * Math.PI),
  }));
  return { onsetS, envelope, partials, levelDb };
}
