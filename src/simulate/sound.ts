import { audibleBounds, type Envelope, envelopeAt, envelopeLengthS } from './envelope.ts';

/** One sinusoid of a sound, gliding evenly in frequency from the sound's beginning. */
export interface Partial {
  readonly frequencyHz: number;
  readonly glideHzPerS: number;
  readonly amplitude: number;
  readonly phase: number;
}

/**
 * A sound as a function of continuous time, so that it can be rendered at any sample rate: sinusoids under one
 * envelope. Noisy sounds are sums of many sinusoids of random frequency and phase.
 */
export interface Sound {
  /** Beginning of the envelope, s from the recording's start; its onset is a little later. */
  readonly startS: number;
  readonly envelope: Envelope;
  readonly partials: readonly Partial[];
  /** Amplitude factor inside its group. */
  readonly gain: number;
  /** Which group (a train, a call, ...) sets its level. */
  readonly group: number;
}

/**
 * Sounds that get their level together. Once scaled, the mean over the group's sounds of their mean power while
 * they sound (onset to offset) stands `snrDb` above the reference power.
 */
export interface SoundGroup {
  /** Time at which the background's power is taken, s. */
  readonly middleS: number;
  readonly snrDb: number;
  /**
   * `local`: the background's 200 to 400 Hz power within 2 s of the middle.
   * `whole`: the median of that power over the recording.
   */
  readonly reference: 'local' | 'whole';
}

/** Partials above this share of the sample rate are left out of a rendering, so that none folds back. */
const HIGHEST_SHARE = 0.46;

/** Powers are reckoned on what every allowed sample rate (8000 Hz and up) can carry. */
const COMMON_TOP_HZ = 8000 * HIGHEST_SHARE;

/**
 * Adds a sound to a block of samples.
 *
 * @param target samples, added to; sample k stands at time (firstSample + k) / sampleRateHz
 * @param gain amplitude factor on top of the sound's own
 * @param delayS the sound arrives this much later
 */
export function addSound(
  sound: Sound,
  target: Float32Array,
  firstSample: number,
  sampleRateHz: number,
  gain: number,
  delayS = 0,
): void {
  const startS = sound.startS + delayS;
  const lengthS = envelopeLengthS(sound.envelope);
  const first = Math.max(firstSample, Math.ceil(startS * sampleRateHz));
  const last = Math.min(firstSample + target.length - 1, Math.floor((startS + lengthS) * sampleRateHz));
  const partials = audiblePartials(sound, sampleRateHz * HIGHEST_SHARE);
  const factor = gain * sound.gain;
  for (let sample = first; sample <= last; sample++) {
    const timeS = sample / sampleRateHz - startS;
    target[sample - firstSample]! += factor * envelopeAt(sound.envelope, timeS) * partialSum(partials, timeS);
  }
}

/** Mean power of a sound (before its gain) between its onset and offset. */
export function soundingPower(sound: Pick<Sound, 'envelope' | 'partials'>): number {
  const { onsetS, offsetS } = audibleBounds(sound.envelope);
  const partials = audiblePartials(sound, COMMON_TOP_HZ);
  const highestHz = partials.reduce((highest, partial) => Math.max(highest, partial.frequencyHz), 0);
  const steps = Math.max(64, Math.ceil((offsetS - onsetS) * 2.3 * highestHz));
  let sum = 0;
  for (let step = 0; step < steps; step++) {
    const timeS = onsetS + ((step + 0.5) / steps) * (offsetS - onsetS);
    sum += (envelopeAt(sound.envelope, timeS) * partialSum(partials, timeS)) ** 2;
  }
  return sum / steps;
}

/** The same, as expected over all phases: for long sounds of many partials, where it is close and far quicker. */
export function expectedPower(sound: Pick<Sound, 'envelope' | 'partials'>): number {
  const { onsetS, offsetS } = audibleBounds(sound.envelope);
  const steps = 200;
  let squares = 0;
  for (let step = 0; step < steps; step++) {
    squares += envelopeAt(sound.envelope, onsetS + ((step + 0.5) / steps) * (offsetS - onsetS)) ** 2;
  }
  const partials = audiblePartials(sound, COMMON_TOP_HZ);
  return (squares / steps) * partials.reduce((sum, { amplitude }) => sum + amplitude ** 2 / 2, 0);
}

/** Scales sounds so that the mean of their powers is 1, keeping the levels between them. */
export function toUnitPower(sounds: readonly Sound[], powerOf = soundingPower): Sound[] {
  const mean = sounds.reduce((sum, sound) => sum + sound.gain ** 2 * powerOf(sound), 0) / sounds.length;
  return sounds.map((sound) => ({ ...sound, gain: sound.gain / Math.sqrt(mean) }));
}

/** Scales each sound to a sounding power of its own. */
export function toPower(sound: Sound, power: number): Sound {
  return { ...sound, gain: Math.sqrt(power / soundingPower(sound)) };
}

function audiblePartials(sound: Pick<Sound, 'envelope' | 'partials'>, topHz: number): readonly Partial[] {
  const lengthS = envelopeLengthS(sound.envelope);
  return sound.partials.filter(
    ({ frequencyHz, glideHzPerS }) => Math.max(frequencyHz, frequencyHz + glideHzPerS * lengthS) < topHz,
  );
}

function partialSum(partials: readonly Partial[], timeS: number): number {
  let sum = 0;
  for (let index = 0; index < partials.length; index++) {
    const { frequencyHz, glideHzPerS, amplitude, phase } = partials[index]!;
    sum += amplitude * Math.sin(2 * Math.PI * (frequencyHz + 0.5 * glideHzPerS * timeS) * timeS + phase);
  }
  return sum;
}
