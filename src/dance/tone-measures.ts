import { keptRoom } from '../signal/kept-room.ts';
import { peakOffset } from '../signal/peak.ts';
import { deviationOf, meanOf } from '../signal/quantile.ts';
import type { CarrierRatios } from './pulse-candidates.ts';
import type { SegmentView } from './segment-view.ts';
import type { ToneTrack } from './tone-tracks.ts';

/** When a tone sounds, s from the segment's start, and its first and last frame, from its track's first. */
export interface ToneExtent {
  readonly startS: number;
  readonly endS: number;
  readonly from: number;
  readonly to: number;
}

/** Carrier at the middle of a tone, Hz, and by how much the carrier rises over two thirds of it. */
export interface ToneGlide {
  readonly carrierHz: number;
  readonly riseHz: number;
}

/** How fast the carrier of a tone rises, Hz a second. */
export const risePerS = ({ startS, endS, riseHz }: Pick<ToneExtent, 'startS' | 'endS'> & ToneGlide): number =>
  riseHz / Math.max(0.02, ((endS - startS) * 2) / 3);

/** Levels of a tone in windows of one length. */
export interface ToneLevels {
  /** Mean power over the noise floor at the carrier. */
  readonly ratio: number;
  /** SD of ln power along the tone: small for a steady tone, about 1 for noise. */
  readonly unevenness: number;
  /** Power beside the carrier over that at the carrier. */
  readonly besideShare: number;
  /** Mean power at the carrier 0.02 to 0.1 s before and after the tone over that of the tone. */
  readonly beforeShare: number;
  readonly afterShare: number;
}

/**
 * The window smears a sharp edge over its own length; the sound begins and ends at about half the amplitude, 0.3 of
 * the mean power.
 */
export function toneExtent(
  { ratio, carrierCount, hopS }: CarrierRatios,
  { start, track }: ToneTrack,
): ToneExtent {
  const powers = track.map((carrier, k) => ratio[(start + k) * carrierCount + carrier]!);
  const level = meanOf(powers);
  let from = 0;
  let to = powers.length - 1;
  while (from < to && powers[from]! < 0.3 * level) from++;
  while (to > from && powers[to]! < 0.3 * level) to--;
  return { startS: (start + from) * hopS, endS: (start + to) * hopS, from, to };
}

/** @param besideHz how far from the carrier other sound is looked for, whole carriers of which are taken */
export function toneLevels(
  ratios: CarrierRatios,
  tone: Pick<ToneExtent, 'startS' | 'endS'> & ToneGlide,
  besideHz: number,
): ToneLevels {
  const { ratio, carrierCount, frameCount, hopS, firstCarrierHz, carrierStepHz } = ratios;
  const inside = (carrier: number) => Math.max(0, Math.min(carrierCount - 1, carrier));
  const middle = (tone.carrierHz - firstCarrierHz) / carrierStepHz;
  const besides = Math.round(besideHz / carrierStepHz);
  const risePerFrame = (risePerS(tone) / carrierStepHz) * hopS;
  const first = Math.round(tone.startS / hopS);
  const last = Math.min(frameCount - 1, Math.round(tone.endS / hopS));
  const logs: number[] = [];
  let sum = 0;
  let beside = 0;
  for (let frame = first; frame <= last; frame++) {
    const carrier = Math.round(middle + risePerFrame * (frame - (first + last) / 2));
    const power = ratio[frame * carrierCount + inside(carrier)]!;
    sum += power;
    logs.push(Math.log(power + 0.05));
    beside += ratio[frame * carrierCount + inside(carrier - besides)]!;
    beside += ratio[frame * carrierCount + inside(carrier + besides)]!;
  }
  const total = sum + 1e-9;
  const around = (edge: number, direction: 1 | -1) =>
    (meanAround(ratios, edge, direction, inside(Math.round(middle))) * logs.length) / total;
  return {
    ratio: sum / logs.length,
    unevenness: logs.length < 3 ? 1 : deviationOf(logs),
    besideShare: beside / 2 / total,
    beforeShare: around(first, -1),
    afterShare: around(last, 1),
  };
}

const noiseRoom = keptRoom(Float64Array);

/**
 * Carrier at the middle of a tone, and its rise over two thirds of it: a straight line through the frequencies of its
 * frames, each weighted by its power (weighted least squares). Powers are freed of the noise and taken as they are,
 * not over the floor: a floor that slopes would draw the carrier to where it is low.
 */
export function toneGlide(
  { ratio, carrierCount, firstCarrierHz, carrierStepHz, hopS }: CarrierRatios,
  noisePowerAt: SegmentView['callNoisePowerAt'],
  { start, track }: ToneTrack,
  { from, to }: ToneExtent,
): ToneGlide {
  const middle = (from + to) / 2;
  const noise = noiseRoom(carrierCount);
  let lowest = carrierCount;
  let highest = 0;
  for (const carrier of track) {
    lowest = Math.min(lowest, carrier);
    highest = Math.max(highest, carrier);
  }
  for (let carrier = Math.max(0, lowest - 2); carrier <= Math.min(carrierCount - 1, highest + 2); carrier++) {
    noise[carrier] = noisePowerAt((start + middle) * hopS, firstCarrierHz + carrier * carrierStepHz);
  }
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
    const tracked = track[k]!;
    let carrier = tracked;
    if (tracked > 1 && power(k, tracked - 1) > power(k, carrier)) carrier = tracked - 1;
    if (tracked < carrierCount - 2 && power(k, tracked + 1) > power(k, carrier)) carrier = tracked + 1;
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
  let sum = 0;
  let count = 0;
  for (let k = Math.round(AROUND_FROM_S / hopS); k <= Math.round(AROUND_TO_S / hopS); k++) {
    const frame = edge + direction * k;
    if (frame < 0 || frame >= frameCount) break;
    sum += ratio[frame * carrierCount + carrier]!;
    count++;
  }
  return count === 0 ? 1 : sum / count;
}
