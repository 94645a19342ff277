import type { Room } from '../signal/kept-room.ts';
import { hannWindow } from '../signal/spectral-frames.ts';
import { hiddenBy } from './hidden.ts';
import type { SegmentView } from './segment-view.ts';
import type { RefinedTrain } from './train-refinement.ts';

/** How far about its middle a pulse is taken out; no further than half a beat. */
const REACH_S = 0.016;
/** Half the window in which a pulse's shape is smoothed: what changes faster is noise, or the image at twice the carrier. */
const SMOOTHING_S = 0.003;
const ROUNDS = 2;

/**
 * A segment as it would sound without some trains: of each the pulses' mean shape is learnt, and at each pulse as much
 * of it is taken off as fits it best (least squares in amplitude and phase). Powers over the floor in `carriers` stay
 * as they were.
 *
 * @param room for the sound that is left; default: a new array
 */
export function viewWithout(
  view: SegmentView,
  trains: readonly RefinedTrain[],
  room: Room<Float32Array> = (length) => new Float32Array(length),
): SegmentView {
  const samples = room(view.samples.length);
  samples.set(view.samples);
  for (const train of trains) takeOut(samples, view.sampleRateHz, train);
  return { ...view, samples, hiddenAt: hiddenBy(trains) };
}

/** Complex values over the length of a pulse. */
interface Complex {
  readonly re: Float64Array;
  readonly im: Float64Array;
}

function takeOut(samples: Float32Array, sampleRateHz: number, train: RefinedTrain): void {
  const half = Math.round(Math.min(REACH_S, 0.5 * train.beatS) * sampleRateHz);
  const carrier = carrierOver(half, (2 * Math.PI * train.carrierHz) / sampleRateHz);
  const starts = train.pulseTimesS
    .map((timeS) => Math.round(timeS * sampleRateHz) - half)
    .filter((start) => start >= 0 && start + 2 * half < samples.length);
  const shape = shapeOf(samples, starts, carrier, Math.max(1, Math.round(SMOOTHING_S * sampleRateHz)));
  let energy = 0;
  for (let n = 0; n < shape.re.length; n++) energy += shape.re[n]! ** 2 + shape.im[n]! ** 2;
  if (!(energy > 0)) return;
  for (const start of starts) {
    // A real sound is half above and half below 0 Hz: what fits it is twice what fits one half.
    const [re, im] = fitOf(samples, start, carrier, shape).map((part) => (2 * part) / energy) as [
      number,
      number,
    ];
    for (let n = 0; n < shape.re.length; n++) {
      const pulseRe = shape.re[n]! * re - shape.im[n]! * im;
      const pulseIm = shape.re[n]! * im + shape.im[n]! * re;
      samples[start + n]! -= pulseRe * carrier.re[n]! - pulseIm * carrier.im[n]!;
    }
  }
}

/** e^(i turn n), n from −half to half. */
function carrierOver(half: number, turn: number): Complex {
  const length = 2 * half + 1;
  return {
    re: Float64Array.from({ length }, (_, n) => Math.cos(turn * (n - half))),
    im: Float64Array.from({ length }, (_, n) => Math.sin(turn * (n - half))),
  };
}

/** Mean of the pulses brought down to 0 Hz and into one phase; another dancer's pulses, in any phase, cancel. */
function shapeOf(
  samples: Float32Array,
  starts: readonly number[],
  carrier: Complex,
  smoothing: number,
): Complex {
  const length = carrier.re.length;
  const window = hannWindow(length);
  let shape: Complex = { re: window, im: new Float64Array(length) };
  for (let round = 0; round < ROUNDS; round++) {
    const mean: Complex = { re: new Float64Array(length), im: new Float64Array(length) };
    for (const start of starts) {
      const [re, im] = fitOf(samples, start, carrier, shape);
      const size = Math.hypot(re, im) + 1e-30;
      for (let n = 0; n < length; n++) {
        const sample = (samples[start + n]! * window[n]!) / size;
        mean.re[n]! += sample * (carrier.re[n]! * re - carrier.im[n]! * im);
        mean.im[n]! -= sample * (carrier.re[n]! * im + carrier.im[n]! * re);
      }
    }
    shape = { re: smoothed(mean.re, smoothing), im: smoothed(mean.im, smoothing) };
  }
  return shape;
}

/** Σ x[n] e^(−i turn n) · conj(shape[n]). */
function fitOf(samples: Float32Array, start: number, carrier: Complex, shape: Complex): [number, number] {
  let re = 0;
  let im = 0;
  for (let n = 0; n < carrier.re.length; n++) {
    const sample = samples[start + n]!;
    const downRe = sample * carrier.re[n]!;
    const downIm = -sample * carrier.im[n]!;
    re += downRe * shape.re[n]! + downIm * shape.im[n]!;
    im += downIm * shape.re[n]! - downRe * shape.im[n]!;
  }
  return [re, im];
}

function smoothed(values: Float64Array, half: number): Float64Array {
  const window = hannWindow(2 * half + 1);
  const total = window.reduce((sum, weight) => sum + weight, 0);
  const means = new Float64Array(values.length);
  for (let n = 0; n < means.length; n++) {
    const to = Math.min(half, values.length - 1 - n);
    let sum = 0;
    for (let k = Math.max(-half, -n); k <= to; k++) sum += values[n + k]! * window[k + half]!;
    means[n] = sum / total;
  }
  return means;
}
