import { keptRoom, type Room } from '../signal/kept-room.ts';
import { peakOffset } from '../signal/peak.ts';
import {
  type CarrierSound,
  carrierPowerAt,
  carrierSound,
  type HannWindow,
  keptSoundRoom,
  type Phasors,
  phasorsOf,
  powersInWindow,
  type SoundRoom,
  windowOf,
} from './carrier-envelope.ts';
import { LEAST_LEFT } from './hidden.ts';
import { TUNING_HZ, type TunedWindow, tunedWindowOf, tuningAt } from './tuning.ts';

/** Power over the noise floor at one carrier around a train, in windows about as long as a pulse. */
export interface MatchedView {
  matched(index: number): number;
  /** What of a pulse's power is left where others were taken out. */
  leftAt(timeS: number): number;
  /** Number of values; time of the first, and from each to the next, s. */
  readonly count: number;
  readonly fromS: number;
  readonly stepS: number;
  /** The larger power over the floor 70 Hz below or above the carrier over that at the carrier. */
  powerBeside(timeS: number): number;
  /** ln likelihood ratio that a pulse is at the carrier. */
  tuningOf(pulse: Pulse): number;
  /**
   * Power over the floor in a shorter window, for edges, from one index up to and with another: as in `matched`, but
   * only until it is asked for again.
   */
  edges(first: number, last: number): Float64Array;
}

/** A pulse of a train. */
export interface Pulse {
  /** Its middle, s from the start of the samples. */
  readonly timeS: number;
  /** Power over the noise floor there. */
  readonly ratio: number;
}

const STEP_S = 0.001;
/** Length of the Hann window that pulses are matched with, s. */
export const MATCHED_WINDOW_S = 0.024;
/** In whole samples, an odd number, this is 11.5 ms at 2 kHz. */
const EDGE_WINDOW_S = 0.0105;
const BESIDE_HZ = 70;

/** An odd number of samples that last about `seconds`. */
export function oddLength(seconds: number, sampleRateHz: number): number {
  return 2 * Math.round((seconds * sampleRateHz) / 2) + 1;
}

/** Share of a pulse's power that was taken out. */
type HiddenAt = (timeS: number, carrierHz: number) => number;

/** Where the sound about a train, brought down, stands while it is looked at. */
export interface ViewRoom {
  readonly sound: SoundRoom;
  readonly below: SoundRoom;
  readonly here: SoundRoom;
  readonly above: SoundRoom;
  readonly known: Room<Float64Array>;
  readonly edges: Room<Float64Array>;
}

/** Room for one view at a time. */
export const keptViewRoom = (): ViewRoom => ({
  sound: keptSoundRoom(),
  below: keptSoundRoom(),
  here: keptSoundRoom(),
  above: keptSoundRoom(),
  known: keptRoom(Float64Array),
  edges: keptRoom(Float64Array),
});

/**
 * @param noisePowerAt mean noise power at a frequency, in the unit of `powerInWindow`
 * @param hiddenAt share of a pulse's power that was taken out
 * @param room taken for as long as the view is used; default: a new one
 * @returns null where the noise is unknown (digital silence)
 */
export function matchedView(
  samples: Float32Array,
  sampleRateHz: number,
  carrierHz: number,
  range: { fromS: number; toS: number },
  noisePowerAt: (hz: number) => number,
  hiddenAt: HiddenAt | null = null,
  room = keptViewRoom(),
): MatchedView | null {
  const noise = noisePowerAt(carrierHz);
  if (!(noise > 0)) return null;
  const step = Math.max(1, Math.round(STEP_S * sampleRateHz));
  const fromSample = Math.round(range.fromS * sampleRateHz);
  const count = Math.ceil((range.toS - range.fromS) / (step / sampleRateHz));
  const length = oddLength(MATCHED_WINDOW_S, sampleRateHz);
  const besideAt = (hz: number, soundRoom: SoundRoom): Carrier => ({
    phasors: phasorsOf(hz, sampleRateHz, length, soundRoom),
    noise: noisePowerAt(hz),
  });
  return new SoundView({
    samples,
    sampleRateHz,
    carrierHz,
    hiddenAt,
    fromSample,
    step,
    count,
    sound: carrierSound(samples, sampleRateHz, carrierHz, fromSample, count * step, length, room.sound),
    noise,
    noiseBeside: {
      above: noisePowerAt(carrierHz + TUNING_HZ),
      below: noisePowerAt(carrierHz - TUNING_HZ),
    },
    window: windowOf(length),
    edgeWindow: windowOf(oddLength(EDGE_WINDOW_S, sampleRateHz)),
    tunedWindow: tunedWindowOf(length, sampleRateHz),
    known: room.known(count).fill(Number.NaN),
    edges: room.edges,
    below: besideAt(carrierHz - BESIDE_HZ, room.below),
    here: besideAt(carrierHz, room.here),
    above: besideAt(carrierHz + BESIDE_HZ, room.above),
    sharesBeside: new Map(),
  });
}

/** One carrier in the window that pulses are matched with. */
interface Carrier {
  readonly phasors: Phasors;
  readonly noise: number;
}

/** All that a view is worked out from. */
interface Heard {
  readonly samples: Float32Array;
  readonly sampleRateHz: number;
  readonly carrierHz: number;
  readonly hiddenAt: HiddenAt | null;
  readonly fromSample: number;
  /** Samples from each value to the next. */
  readonly step: number;
  readonly count: number;
  readonly sound: CarrierSound;
  readonly noise: number;
  readonly noiseBeside: { readonly above: number; readonly below: number };
  readonly window: HannWindow;
  readonly edgeWindow: HannWindow;
  readonly tunedWindow: TunedWindow;
  /** Most of the stretch is never looked at: values are worked out when they are asked for, and kept. */
  readonly known: Float64Array;
  readonly edges: Room<Float64Array>;
  readonly below: Carrier;
  readonly here: Carrier;
  readonly above: Carrier;
  readonly sharesBeside: Map<number, number>;
}

/** A class, for its methods are made once: functions made anew for each view would be compiled over and over. */
class SoundView implements MatchedView {
  readonly count: number;
  readonly fromS: number;
  readonly stepS: number;
  private readonly heard: Heard;

  constructor(heard: Heard) {
    this.heard = heard;
    this.count = heard.count;
    this.fromS = heard.fromSample / heard.sampleRateHz;
    this.stepS = heard.step / heard.sampleRateHz;
  }

  matched(index: number): number {
    const { known } = this.heard;
    if (Number.isNaN(known[index]!)) hearPulses(this.heard, index);
    return known[index]!;
  }

  leftAt(timeS: number): number {
    return leftAt(this.heard, timeS);
  }

  edges(first: number, last: number): Float64Array {
    const { sound, step, edgeWindow, noise, edges } = this.heard;
    const powers = edges(last + 1);
    powersInWindow(sound, step, edgeWindow, powers, first, last + 1);
    for (let k = first; k <= last; k++) powers[k]! /= noise;
    return powers;
  }

  tuningOf({ timeS, ratio }: Pulse): number {
    const { sound, step, count, sampleRateHz, fromSample, tunedWindow, noiseBeside } = this.heard;
    const centre = Math.round(timeS * sampleRateHz) - fromSample;
    const inside = Math.max(0, Math.min(count * step - 1, centre));
    return tuningAt(sound, inside, tunedWindow, ratio, noiseBeside);
  }

  powerBeside(timeS: number): number {
    const { sampleRateHz, sharesBeside, below, here, above } = this.heard;
    const sample = Math.round(timeS * sampleRateHz);
    let share = sharesBeside.get(sample);
    if (share === undefined) {
      const beside = Math.max(ratioAt(this.heard, below, sample), ratioAt(this.heard, above, sample));
      share = beside / (ratioAt(this.heard, here, sample) + 1e-30);
      sharesBeside.set(sample, share);
    }
    return share;
  }
}

/** Works out the value at an index, and at the next, which is mostly asked for next. */
function hearPulses(heard: Heard, index: number): void {
  const { known, sound, step, window, count, fromSample, sampleRateHz, noise } = heard;
  const end = Math.min(count, index + 2);
  powersInWindow(sound, step, window, known, index, end);
  for (let k = index; k < end; k++) {
    // What was taken out takes of the noise as much as of a pulse.
    known[k]! /= noise * Math.max(LEAST_LEFT, leftAt(heard, (fromSample + k * step) / sampleRateHz));
  }
}

function leftAt({ hiddenAt, carrierHz }: Heard, timeS: number): number {
  return hiddenAt === null ? 1 : 1 - hiddenAt(timeS, carrierHz);
}

/** Power over the noise at a carrier. */
function ratioAt({ samples, window }: Heard, { phasors, noise }: Carrier, sample: number): number {
  return carrierPowerAt(samples, phasors, sample, window) / noise;
}

/** The strongest moment within `reachS` of a time. */
export function strongestNear(view: MatchedView, timeS: number, reachS: number): Pulse {
  const { count, fromS, stepS } = view;
  const low = Math.max(1, Math.ceil((timeS - reachS - fromS) / stepS));
  const high = Math.min(count - 2, Math.floor((timeS + reachS - fromS) / stepS));
  let best = Math.min(Math.max(1, Math.round((timeS - fromS) / stepS)), count - 2);
  for (let k = low; k <= high; k++) if (view.matched(k) > view.matched(best)) best = k;
  const offset = peakOffset(view.matched(best - 1), view.matched(best), view.matched(best + 1));
  return { timeS: fromS + (best + offset) * stepS, ratio: view.matched(best) };
}
