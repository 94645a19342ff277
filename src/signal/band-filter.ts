import { type BiquadShape, biquadCascade, biquadOf } from './biquad.ts';
import type { Stage } from './decimator.ts';

/** Edges of a band, Hz. */
export interface Band {
  readonly lowHz: number;
  readonly highHz: number;
}

/** Where the carriers of dance sound lie. */
const DANCE_BAND: Band = { lowHz: 200, highHz: 400 };

/**
 * Poles of a fourth-order Butterworth filter in pairs: Q = 1 / (2 cos(π/8)) and 1 / (2 cos(3π/8)), in dB.
 * Source: Butterworth 1930, Experimental Wireless 7:536.
 */
const BUTTERWORTH_Q_DB = [1, 3].map((k) => -20 * Math.log10(2 * Math.cos((k * Math.PI) / 8)));

/**
 * The band filter as sections to be put one after the other: a Butterworth high-pass of fourth order at the
 * lower edge, then a low-pass of fourth order at the upper. For 200 to 400 Hz: −3 dB at either edge, −0.5 dB in
 * the middle, −24 dB an octave outside. Phase is not linear: for listening and for levels, not for timing.
 */
export function bandShapes(band: Band = DANCE_BAND): BiquadShape[] {
  return [
    ...BUTTERWORTH_Q_DB.map((qDb) => ({ type: 'highpass' as const, frequencyHz: band.lowHz, qDb })),
    ...BUTTERWORTH_Q_DB.map((qDb) => ({ type: 'lowpass' as const, frequencyHz: band.highHz, qDb })),
  ];
}

/**
 * The band filter over a stream of blocks; how the stream is cut changes nothing.
 *
 * @throws RangeError when the band is empty or reaches half the sample rate
 */
export function bandFilter(sampleRateHz: number, band: Band = DANCE_BAND): Stage {
  if (!(band.lowHz < band.highHz)) throw new RangeError(`a band from ${band.lowHz} to ${band.highHz} Hz`);
  return biquadCascade(bandShapes(band).map((shape) => biquadOf(shape, sampleRateHz)));
}
