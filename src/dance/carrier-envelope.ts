import { keptRoom, type Room } from '../signal/kept-room.ts';
import { peakOffset } from '../signal/peak.ts';
import { hannWindow } from '../signal/spectral-frames.ts';

/** A stretch of samples brought down from one carrier to 0 Hz, from which powers at that carrier are taken. */
export interface CarrierSound {
  readonly real: Float64Array;
  readonly imaginary: Float64Array;
  /** Samples before the first that a window may be centred on. */
  readonly lead: number;
}

/** Where a stretch of sound may stand. */
export interface SoundRoom {
  readonly real: Room<Float64Array>;
  readonly imaginary: Room<Float64Array>;
}

/** Room for one stretch at a time. */
export const keptSoundRoom = (): SoundRoom => ({
  real: keptRoom(Float64Array),
  imaginary: keptRoom(Float64Array),
});

const newArray = (length: number): Float64Array => new Float64Array(length);
const newRoom: SoundRoom = { real: newArray, imaginary: newArray };

/**
 * Multiplies samples by e^(−i 2π f n / rate). Samples outside the stretch count as zero.
 *
 * @param fromSample first and
 * @param count number of samples that windows are to be centred on
 * @param longestWindow of the windows that powers will be taken in, samples
 * @param room where to put it; default: new arrays
 */
export function carrierSound(
  samples: Float32Array,
  sampleRateHz: number,
  carrierHz: number,
  fromSample: number,
  count: number,
  longestWindow: number,
  room: SoundRoom = newRoom,
): CarrierSound {
  const lead = longestWindow >> 1;
  const first = fromSample - lead;
  const length = count + 2 * lead;
  const real = room.real(length);
  const imaginary = room.imaginary(length);
  const low = Math.min(length, Math.max(0, -first));
  const high = Math.max(low, Math.min(length, samples.length - first));
  for (const part of [real, imaginary]) part.fill(0, 0, low).fill(0, high);
  // The phasor is turned by multiplication; even over the minutes of a dance this loses 10⁻¹⁰ at most.
  const turnRe = Math.cos((2 * Math.PI * carrierHz) / sampleRateHz);
  const turnIm = Math.sin((2 * Math.PI * carrierHz) / sampleRateHz);
  let phasorRe = 1;
  let phasorIm = 0;
  for (let n = low; n < high; n++) {
    const sample = samples[first + n]!;
    real[n] = sample * phasorRe;
    imaginary[n] = sample * phasorIm;
    const nextRe = phasorRe * turnRe - phasorIm * turnIm;
    phasorIm = phasorRe * turnIm + phasorIm * turnRe;
    phasorRe = nextRe;
  }
  return { real, imaginary, lead };
}

/**
 * Power around the carrier in one Hann window: |Σ x[n] w[n − centre] e^(−i 2π f n / rate)|² / Σ w². White noise
 * of variance v gives a mean of v.
 *
 * @param centre middle of the window, samples from the `fromSample` of `carrierSound`
 * @param window odd number of samples, at most `longestWindow`
 */
export function powerInWindow(sound: CarrierSound, centre: number, window: HannWindow): number {
  const { real, imaginary } = sound;
  const { weights, energy } = window;
  const at = sound.lead + centre - (weights.length >> 1);
  let re = 0;
  let im = 0;
  for (let n = 0; n < weights.length; n++) {
    const weight = weights[n]!;
    re += weight * real[at + n]!;
    im += weight * imaginary[at + n]!;
  }
  return (re * re + im * im) / energy;
}

/**
 * `powerInWindow` at every `step`-th sample: that centred on sample k · step goes to `powers[k]`, for k from `from` up
 * to, and without, `to`. Two at a time share the reading of the weights, and neither waits for the other's sums.
 */
export function powersInWindow(
  sound: CarrierSound,
  step: number,
  window: HannWindow,
  powers: Float64Array,
  from: number,
  to: number,
): void {
  let k = from;
  for (; k + 2 <= to; k += 2) putTwoPowers(powers, k, sound, k * step, step, window);
  if (k < to) powers[k] = powerInWindow(sound, k * step, window);
}

function putTwoPowers(
  powers: Float64Array,
  to: number,
  { real, imaginary, lead }: CarrierSound,
  centre: number,
  step: number,
  { weights, energy }: HannWindow,
): void {
  const at = lead + centre - (weights.length >> 1);
  const next = at + step;
  let re = 0;
  let im = 0;
  let nextRe = 0;
  let nextIm = 0;
  for (let n = 0; n < weights.length; n++) {
    const weight = weights[n]!;
    re += weight * real[at + n]!;
    im += weight * imaginary[at + n]!;
    nextRe += weight * real[next + n]!;
    nextIm += weight * imaginary[next + n]!;
  }
  powers[to] = (re * re + im * im) / energy;
  powers[to + 1] = (nextRe * nextRe + nextIm * nextIm) / energy;
}

/** The weights of a Hann window and the sum of their squares. */
export interface HannWindow {
  readonly weights: Float64Array;
  readonly energy: number;
}

const windows = new Map<number, HannWindow>();

/**
 * Made once for each length.
 *
 * @param length odd number of samples
 */
export function windowOf(length: number): HannWindow {
  let window = windows.get(length);
  if (window === undefined) {
    const weights = hannWindow(length);
    window = { weights, energy: weights.reduce((sum, w) => sum + w * w, 0) };
    windows.set(length, window);
  }
  return window;
}

const GRID_HZ = 8;
const GRID_REACH = 5;

/**
 * The carrier of a row of pulses, Hz: where the power of Hann windows placed on the pulses, summed over them
 * and less the noise expected there, is greatest; on a grid of 8 Hz, then by a parabola. The noise falls with
 * frequency, so that power over the floor alone would place the carrier too high.
 *
 * @param pulseSamples middle of each pulse, samples
 * @param nearHz searched ± 40 Hz about this
 * @param noisePowerAt mean noise power at a frequency, unit of `powerInWindow`
 */
export function carrierOfPulses(
  samples: Float32Array,
  sampleRateHz: number,
  pulseSamples: readonly number[],
  nearHz: number,
  windowLength: number,
  noisePowerAt: (hz: number) => number,
): number {
  const { weights, energy } = windowOf(windowLength);
  const scale = 1 / energy;
  const sums = new Float64Array(2 * GRID_REACH + 1);
  const re = turnedRoom.real(windowLength);
  const im = turnedRoom.imaginary(windowLength);
  for (let k = -GRID_REACH; k <= GRID_REACH; k++) {
    const hz = nearHz + k * GRID_HZ;
    const turn = (2 * Math.PI * hz) / sampleRateHz;
    turnedWindow(weights, turn, re, im);
    const sum = energyIn(samples, pulseSamples, re, im);
    sums[k + GRID_REACH] = sum * scale - pulseSamples.length * noisePowerAt(hz);
  }
  let best = 0;
  for (let k = 1; k < sums.length; k++) if (sums[k]! > sums[best]!) best = k;
  const offset =
    best === 0 || best === sums.length - 1 ? 0 : peakOffset(sums[best - 1]!, sums[best]!, sums[best + 1]!);
  return nearHz + (best - GRID_REACH + offset) * GRID_HZ;
}

const turnedRoom = keptSoundRoom();

/** Sum over pulses of |Σ window[n] samples[n − centre]|², window complex; those that reach over an end left out. */
function energyIn(
  samples: Float32Array,
  pulseSamples: readonly number[],
  re: Float64Array,
  im: Float64Array,
): number {
  let sum = 0;
  for (const centre of pulseSamples) {
    const from = Math.round(centre) - (re.length >> 1);
    if (from < 0 || from + re.length > samples.length) continue;
    let sumRe = 0;
    let sumIm = 0;
    for (let n = 0; n < re.length; n++) {
      sumRe += re[n]! * samples[from + n]!;
      sumIm += im[n]! * samples[from + n]!;
    }
    sum += sumRe * sumRe + sumIm * sumIm;
  }
  return sum;
}

/** w[n] e^(i turn n), by turning a phasor: over the length of a window this loses nothing. */
function turnedWindow(window: Float64Array, turn: number, re: Float64Array, im: Float64Array): void {
  const turnRe = Math.cos(turn);
  const turnIm = Math.sin(turn);
  let phasorRe = 1;
  let phasorIm = 0;
  for (let n = 0; n < window.length; n++) {
    re[n] = window[n]! * phasorRe;
    im[n] = window[n]! * phasorIm;
    const nextRe = phasorRe * turnRe - phasorIm * turnIm;
    phasorIm = phasorRe * turnIm + phasorIm * turnRe;
    phasorRe = nextRe;
  }
}

/** e^(i 2π f n / rate) for as many samples as a window has, by turning a phasor. */
export interface Phasors {
  readonly real: Float64Array;
  readonly imaginary: Float64Array;
}

/**
 * @param length samples
 * @param room where to put them
 */
export function phasorsOf(carrierHz: number, sampleRateHz: number, length: number, room: SoundRoom): Phasors {
  const real = room.real(length);
  const imaginary = room.imaginary(length);
  const ones = onesRoom(length).fill(1);
  turnedWindow(ones, (2 * Math.PI * carrierHz) / sampleRateHz, real, imaginary);
  return { real, imaginary };
}

const onesRoom = keptRoom(Float64Array);

/**
 * Power around one carrier in one Hann window, unit as `powerInWindow`. Samples outside the stretch count as
 * zero.
 *
 * @param phasors of the carrier, as many as the window has samples
 * @param centre middle of the window, sample
 */
export function carrierPowerAt(
  samples: Float32Array,
  phasors: Phasors,
  centre: number,
  window: HannWindow,
): number {
  const { real, imaginary } = phasors;
  const { weights, energy } = window;
  const at = centre - (weights.length >> 1);
  const from = Math.max(0, -at);
  const to = Math.min(weights.length, samples.length - at);
  let re = 0;
  let im = 0;
  for (let n = from; n < to; n++) {
    const sample = weights[n]! * samples[at + n]!;
    re += sample * real[n]!;
    im += sample * imaginary[n]!;
  }
  return (re * re + im * im) / energy;
}
