import type { Stage } from './decimator.ts';

/** A second-order section: y[n] = b0 x[n] + b1 x[n−1] + b2 x[n−2] − a1 y[n−1] − a2 y[n−2]. */
export interface Biquad {
  readonly b0: number;
  readonly b1: number;
  readonly b2: number;
  readonly a1: number;
  readonly a2: number;
}

/**
 * What a section shall do, in the words of the Web Audio API's BiquadFilterNode, so that a page can build the
 * same filter. `q` is in dB for low-pass and high-pass (the gain at the frequency), a plain ratio for the rest.
 */
export type BiquadShape =
  | { readonly type: 'lowpass' | 'highpass'; readonly frequencyHz: number; readonly qDb: number }
  | { readonly type: 'bandpass' | 'notch'; readonly frequencyHz: number; readonly q: number }
  | { readonly type: 'peaking'; readonly frequencyHz: number; readonly q: number; readonly gainDb: number };

/**
 * Coefficients of a section, scaled to a0 = 1.
 *
 * @throws RangeError for a frequency that is not within 0 to half the sample rate, or a q that is not above 0
 *
 * Source: W3C Web Audio API 1.1, 1.13.5 Filters Characteristics (after R. Bristow-Johnson's cookbook).
 */
export function biquadOf(shape: BiquadShape, sampleRateHz: number): Biquad {
  const { frequencyHz } = shape;
  if (!(frequencyHz > 0 && frequencyHz < sampleRateHz / 2)) {
    throw new RangeError(`a filter at ${frequencyHz} Hz, outside 0 to ${sampleRateHz / 2} Hz`);
  }
  if ('q' in shape && !(shape.q > 0)) throw new RangeError(`a filter with q ${shape.q}, not above 0`);
  const turn = (2 * Math.PI * frequencyHz) / sampleRateHz;
  const cosine = Math.cos(turn);
  const q = 'qDb' in shape ? 10 ** (shape.qDb / 20) : shape.q;
  const alpha = Math.sin(turn) / (2 * q);
  switch (shape.type) {
    case 'lowpass':
      return scaled((1 - cosine) / 2, 1 - cosine, (1 - cosine) / 2, 1 + alpha, -2 * cosine, 1 - alpha);
    case 'highpass':
      return scaled((1 + cosine) / 2, -1 - cosine, (1 + cosine) / 2, 1 + alpha, -2 * cosine, 1 - alpha);
    case 'bandpass':
      return scaled(alpha, 0, -alpha, 1 + alpha, -2 * cosine, 1 - alpha);
    case 'notch':
      return scaled(1, -2 * cosine, 1, 1 + alpha, -2 * cosine, 1 - alpha);
    case 'peaking': {
      const a = 10 ** (shape.gainDb / 40);
      return scaled(1 + alpha * a, -2 * cosine, 1 - alpha * a, 1 + alpha / a, -2 * cosine, 1 - alpha / a);
    }
  }
}

function scaled(b0: number, b1: number, b2: number, a0: number, a1: number, a2: number): Biquad {
  return { b0: b0 / a0, b1: b1 / a0, b2: b2 / a0, a1: a1 / a0, a2: a2 / a0 };
}

/**
 * Sections one after the other over a stream of blocks, from silence. The state is kept from block to block in
 * double precision: how the stream is cut changes nothing. Nothing is held back, so `finish` gives nothing.
 */
export function biquadCascade(sections: readonly Biquad[]): Stage {
  // Two values per section: transposed direct form II.
  const state = new Float64Array(2 * sections.length);
  const push = (block: Float32Array): Float32Array => {
    // Between sections the samples stay in double precision.
    const samples = Float64Array.from(block);
    for (const [index, { b0, b1, b2, a1, a2 }] of sections.entries()) {
      let first = state[2 * index]!;
      let second = state[2 * index + 1]!;
      for (let n = 0; n < samples.length; n++) {
        const x = samples[n]!;
        const y = b0 * x + first;
        first = b1 * x - a1 * y + second;
        second = b2 * x - a2 * y;
        samples[n] = y;
      }
      state[2 * index] = first;
      state[2 * index + 1] = second;
    }
    return Float32Array.from(samples);
  };
  return { push, finish: () => new Float32Array(0) };
}

/**
 * Gain and phase of sections one after the other at a frequency: the product of
 * H(e^iw) = (b0 + b1 e^−iw + b2 e^−2iw) / (1 + a1 e^−iw + a2 e^−2iw).
 *
 * @returns gain as a ratio of amplitudes; phase in radians, the sum over the sections
 */
export function responseOf(
  sections: readonly Biquad[],
  frequencyHz: number,
  sampleRateHz: number,
): { readonly gain: number; readonly phaseRad: number } {
  const w = (2 * Math.PI * frequencyHz) / sampleRateHz;
  let gain = 1;
  let phaseRad = 0;
  for (const { b0, b1, b2, a1, a2 } of sections) {
    const numeratorRe = b0 + b1 * Math.cos(w) + b2 * Math.cos(2 * w);
    const numeratorIm = -b1 * Math.sin(w) - b2 * Math.sin(2 * w);
    const denominatorRe = 1 + a1 * Math.cos(w) + a2 * Math.cos(2 * w);
    const denominatorIm = -a1 * Math.sin(w) - a2 * Math.sin(2 * w);
    gain *= Math.hypot(numeratorRe, numeratorIm) / Math.hypot(denominatorRe, denominatorIm);
    phaseRad += Math.atan2(numeratorIm, numeratorRe) - Math.atan2(denominatorIm, denominatorRe);
  }
  return { gain, phaseRad };
}
