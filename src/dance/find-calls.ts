import { greatest } from 'd3-array';
import { logsOf } from '../signal/fast-log.ts';
import { peakOffset } from '../signal/peak.ts';
import { deviationOf, meanOf } from '../signal/quantile.ts';
import type { CarrierRatios } from './pulse-candidates.ts';
import type { SegmentView } from './segment-view.ts';

/** A stretch of unbroken tone before it is given a kind. Times are seconds from the segment's start. */
export interface Tone {
  readonly startS: number;
  readonly endS: number;
  /** Carrier at its middle, Hz, and by how much the carrier rises over two thirds of it. */
  readonly carrierHz: number;
  readonly riseHz: number;
  /** Mean power over the noise floor at the carrier. */
  readonly ratio: number;
  /** SD of ln power along the tone: small for a steady tone, about 1 for noise. */
  readonly unevenness: number;
  /** Power three carriers (70 to 100 Hz by the rate) beside the carrier over that at the carrier. */
  readonly besideShare: number;
  /** Mean power at the carrier 0.02 to 0.1 s before and after the tone over that of the tone. */
  readonly beforeShare: number;
  readonly afterShare: number;
}

/** ln power over the floor, averaged over seven frames (28 ms), from which on a tone may be sounding. */
const ON_LOG = Math.log(3.2);
/** The average may fall to this within a tone. */
const OFF_LOG = Math.log(2.2);
/** Half of this, in whole frames, is averaged on either side of a frame. */
const AVERAGE_S = 0.02;
const LARGEST_STEP = 1; // carriers from one frame to the next
const LEAST_TONE_S = 0.035;
const LONGEST_GAP_S = 0.012;

/**
 * Unbroken tones between 250 and 620 Hz (the outermost carriers only as neighbours): stretches in which the power at
 * a slowly moving carrier stays over the noise floor. Averaging ln power rather than power makes a gap count: the
 * pulses of a train are too far apart to join.
 */
export function findTones(view: SegmentView): Tone[] {
  const ratios = view.callCarriers;
  const { frameCount, hopS } = ratios;
  const noisePowerAt = view.callNoisePowerAt;
  const averages = averagedLogs(ratios, Math.max(1, Math.round(AVERAGE_S / hopS / 2)));
  const tones: Tone[] = [];
  const gapFrames = Math.round(LONGEST_GAP_S / hopS);
  const leastFrames = Math.floor(LEAST_TONE_S / hopS);
  const taken = new Uint8Array(frameCount * ratios.carrierCount);
  for (let frame = 0; frame < frameCount; frame++) {
    const carrier = strongestPeak(ratios, averages, taken, frame);
    if (carrier < 0) continue;
    const track = followTone(ratios, averages, taken, frame, carrier, gapFrames);
    for (let k = 0; k < track.length; k++) {
      for (let c = track[k]! - 2; c <= track[k]! + 2; c++) {
        if (c >= 0 && c < ratios.carrierCount) taken[(frame + k) * ratios.carrierCount + c] = 1;
      }
    }
    const levels = track.map((carrier, k) => averages[(frame + k) * ratios.carrierCount + carrier]!);
    for (const [from, to] of stretchesOf(levels, leastFrames)) {
      const tone = measureTone(ratios, noisePowerAt, frame + from, track.slice(from, to + 1));
      if (tone.endS - tone.startS >= LEAST_TONE_S) tones.push(tone);
    }
  }
  return tones.sort((a, b) => a.startS - b.startS || a.carrierHz - b.carrierHz);
}

/** How far below its loudest, ln power, a tone may fall to be one tone still; each gives a reading of a track. */
const READINGS = [Number.POSITIVE_INFINITY, 2, 1.3, 0.7];
/** Where a track has fallen so far below its loudest and rises again, another tone may sound. */
const APART_FALL = 1.3;

/**
 * The ways to read a track: as a whole, or as the stretch about its loudest moment that stays near its loudness,
 * since hum runs on where a call ends; and so again what rises before it and after it, for calls that follow each
 * other make one track. First and last frame of each, from the track's first.
 */
function stretchesOf(levels: readonly number[], leastFrames: number): (readonly [number, number])[] {
  const stretches: (readonly [number, number])[] = [];
  const read = (first: number, last: number): void => {
    if (last - first < leastFrames) return;
    let loudest = first;
    for (let k = first + 1; k <= last; k++) if (levels[k]! > levels[loudest]!) loudest = k;
    if (levels[loudest]! < ON_LOG) return;
    const near = (fall: number): readonly [number, number] => {
      let from = loudest;
      let to = loudest;
      while (from > first && levels[from - 1]! >= levels[loudest]! - fall) from--;
      while (to < last && levels[to + 1]! >= levels[loudest]! - fall) to++;
      return [from, to];
    };
    for (const [from, to] of READINGS.map(near)) {
      const before = stretches.at(-1);
      if (before === undefined || before[0] !== from || before[1] !== to) stretches.push([from, to]);
    }
    let [before, after] = near(APART_FALL);
    while (before > first && levels[before - 1]! <= levels[before]!) before--;
    while (after < last && levels[after + 1]! <= levels[after]!) after++;
    read(first, before);
    read(after, last);
  };
  read(0, levels.length - 1);
  return stretches;
}

/** Running means over 2·reach + 1 frames of ln(power + a little), for each carrier. */
function averagedLogs(ratios: CarrierRatios, reach: number): Float32Array {
  const { ratio, frameCount, carrierCount } = ratios;
  const logs = logsOf(ratio, 0.05);
  const averages = new Float32Array(ratio.length);
  const sums = new Float64Array(carrierCount);
  for (let frame = -reach; frame < frameCount; frame++) {
    if (frame + reach < frameCount) addRow(sums, logs, (frame + reach) * carrierCount, 1);
    if (frame - reach > 0) addRow(sums, logs, (frame - reach - 1) * carrierCount, -1);
    if (frame >= 0) putMeans(averages, frame * carrierCount, sums, 2 * reach + 1);
  }
  return averages;
}

function addRow(sums: Float64Array, values: Float32Array, from: number, sign: 1 | -1): void {
  for (let k = 0; k < sums.length; k++) sums[k]! += sign * values[from + k]!;
}

function putMeans(means: Float32Array, to: number, sums: Float64Array, count: number): void {
  for (let k = 0; k < sums.length; k++) means[to + k] = sums[k]! / count;
}

function strongestPeak(
  ratios: CarrierRatios,
  averages: Float32Array,
  taken: Uint8Array,
  frame: number,
): number {
  const { carrierCount } = ratios;
  let best = -1;
  for (let carrier = 1; carrier < carrierCount - 1; carrier++) {
    const at = frame * carrierCount + carrier;
    const here = averages[at]!;
    if (here < ON_LOG || taken[at] || here < averages[at - 1]! || here < averages[at + 1]!) continue;
    if (best < 0 || here > averages[frame * carrierCount + best]!) best = carrier;
  }
  return best;
}

/** The carriers of a tone, frame by frame from its start, for as long as it sounds. */
function followTone(
  ratios: CarrierRatios,
  averages: Float32Array,
  taken: Uint8Array,
  start: number,
  carrier: number,
  gapFrames: number,
): number[] {
  const { frameCount, carrierCount } = ratios;
  const track = [carrier];
  let silent = 0;
  for (let frame = start + 1; frame < frameCount && silent <= gapFrames; frame++) {
    const last = track.at(-1)!;
    let best = last;
    for (let c = last - LARGEST_STEP; c <= last + LARGEST_STEP; c++) {
      if (c < 1 || c >= carrierCount - 1) continue;
      if (averages[frame * carrierCount + c]! > averages[frame * carrierCount + best]!) best = c;
    }
    const at = frame * carrierCount + best;
    silent = averages[at]! >= OFF_LOG && !taken[at] ? 0 : silent + 1;
    track.push(best);
  }
  return track.slice(0, track.length - silent);
}

function measureTone(
  ratios: CarrierRatios,
  noisePowerAt: SegmentView['callNoisePowerAt'],
  start: number,
  track: readonly number[],
): Tone {
  const { ratio, carrierCount, hopS } = ratios;
  const at = (k: number, carrier: number) =>
    ratio[(start + k) * carrierCount + Math.max(0, Math.min(carrierCount - 1, carrier))]!;
  const powers = track.map((carrier, k) => at(k, carrier));
  const level = meanOf(powers);
  // The window smears a sharp edge over its own length; the sound begins and ends at about half the
  // amplitude, 0.3 of the mean power.
  let from = 0;
  let to = powers.length - 1;
  while (from < to && powers[from]! < 0.3 * level) from++;
  while (to > from && powers[to]! < 0.3 * level) to--;
  const around = (edge: number, direction: 1 | -1) => meanAround(ratios, edge, direction, meanOf(track));
  const beside = meanOf(track.map((carrier, k) => (at(k, carrier - 3) + at(k, carrier + 3)) / 2));
  return {
    startS: (start + from) * hopS,
    endS: (start + to) * hopS,
    ...glideOf(ratios, noisePowerAt, start, track, [from, to]),
    ratio: level,
    unevenness:
      powers.length < 3 ? 1 : deviationOf(powers.slice(from, to + 1).map((p) => Math.log(p + 0.05))),
    besideShare: beside / (level + 1e-9),
    beforeShare: around(start + from, -1) / (level + 1e-9),
    afterShare: around(start + to, 1) / (level + 1e-9),
  };
}

/**
 * Carrier at the middle of a tone, and its rise over two thirds of it: a straight line through the frequencies of its
 * frames, each weighted by its power (weighted least squares). Powers are freed of the noise and taken as they are,
 * not over the floor: a floor that slopes would draw the carrier to where it is low.
 */
function glideOf(
  { ratio, carrierCount, firstCarrierHz, carrierStepHz, hopS }: CarrierRatios,
  noisePowerAt: SegmentView['callNoisePowerAt'],
  start: number,
  track: readonly number[],
  [from, to]: readonly [from: number, to: number],
): Pick<Tone, 'carrierHz' | 'riseHz'> {
  const middle = (from + to) / 2;
  const noise = Float64Array.from({ length: carrierCount }, (_, carrier) =>
    noisePowerAt((start + middle) * hopS, firstCarrierHz + carrier * carrierStepHz),
  );
  const power = (k: number, carrier: number) =>
    Math.max(0.01, ratio[(start + k) * carrierCount + carrier]! - 1) * noise[carrier]!;
  const lnPower = (k: number, carrier: number) => Math.log(power(k, carrier));
  let weights = 0;
  let carriers = 0;
  let times = 0;
  let squares = 0;
  let products = 0;
  for (let k = from; k <= to; k++) {
    // What stands highest over the floor may not be what is strongest.
    const near = [track[k]!, track[k]! - 1, track[k]! + 1].filter((c) => c >= 1 && c < carrierCount - 1);
    const carrier = greatest(near, (c) => power(k, c))!;
    const weight = power(k, carrier);
    const place = carrier + peakOffset(lnPower(k, carrier - 1), lnPower(k, carrier), lnPower(k, carrier + 1));
    const sinceMiddle = k - middle;
    weights += weight;
    carriers += weight * place;
    times += weight * sinceMiddle;
    squares += weight * sinceMiddle * sinceMiddle;
    products += weight * sinceMiddle * place;
  }
  const spread = squares - (times * times) / weights;
  const slope = spread > 0 ? (products - (times * carriers) / weights) / spread : 0;
  const atMiddle = (carriers - slope * times) / weights;
  return {
    carrierHz: firstCarrierHz + atMiddle * carrierStepHz,
    riseHz: slope * carrierStepHz * ((to - from) * (2 / 3)),
  };
}

/** Nearest to the tone the window still hears it; further out a burst of hum goes on where a call has ended. */
const AROUND_FROM_S = 0.02;
const AROUND_TO_S = 0.1;

function meanAround(ratios: CarrierRatios, edge: number, direction: 1 | -1, carrier: number): number {
  const { ratio, carrierCount, frameCount, hopS } = ratios;
  const column = Math.round(carrier);
  let sum = 0;
  let count = 0;
  for (let k = Math.round(AROUND_FROM_S / hopS); k <= Math.round(AROUND_TO_S / hopS); k++) {
    const frame = edge + direction * k;
    if (frame < 0 || frame >= frameCount) break;
    sum += ratio[frame * carrierCount + column]!;
    count++;
  }
  return count === 0 ? 1 : sum / count;
}
