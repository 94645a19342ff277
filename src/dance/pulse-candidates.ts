import { peakOffset } from '../signal/peak.ts';
import { pulseLogRatio } from './likelihood.ts';

/** Power over the noise floor for a row of carriers: frame k, carrier c at `ratio[k * carrierCount + c]`. */
export interface CarrierRatios {
  readonly ratio: Float32Array;
  readonly frameCount: number;
  readonly carrierCount: number;
  readonly firstCarrierHz: number;
  readonly carrierStepHz: number;
  readonly hopS: number;
}

/**
 * Moments and carriers at which a pulse may stand, in order of frame; parallel arrays. Kept from one segment to the
 * next, because making and clearing them would take longer than filling them.
 */
export interface PulseCandidates {
  /** Those after the first `count` of each array mean nothing. */
  count: number;
  readonly frame: Int32Array;
  readonly carrier: Uint8Array;
  /** Time of the peak between frames, in frames. */
  readonly peak: Float32Array;
  /** Frequency of the peak between carriers, Hz. */
  readonly hz: Float32Array;
  /** 1 / spread of that frequency about a dancer's carrier, 1/Hz. */
  readonly perHz: Float32Array;
  /** Power over the noise floor at the peak. */
  readonly ratio: Float32Array;
  /** ln likelihood ratio of pulse against noise. */
  readonly logRatio: Float32Array;
}

/** Variance of a pulse's frequency about its dancer's carrier, Hz², and what noise adds, times the power over the floor. */
const CARRIER_VARIANCE_HZ2 = 64;
const NOISE_VARIANCE_HZ2 = 1000;

/** Below this a peak says less for a pulse than for noise. */
const LEAST_RATIO = 1;

/** Reach and weight of the local mean that a peak must stand out from, beside the noise floor. */
const BURST_REACH_S = 0.2;
const BURST_WEIGHT = 0.5;

/**
 * Every local maximum in time and carrier of the power over the noise floor, from 1 on. Bursts of hum outlast pulses:
 * a peak is therefore weighed against the noise floor or half the mean over the neighbouring ± 0.2 s, whichever
 * is higher. Pulses fill less than half the time, so that they stand out from either.
 *
 * @param kept filled anew, as long as there is room enough
 */
export function pulseCandidates(ratios: CarrierRatios, kept = candidatesFor(0)): PulseCandidates {
  const { frameCount, carrierCount } = ratios;
  const most = Math.ceil((frameCount * carrierCount) / 4) + 16;
  const candidates = kept.frame.length < most ? candidatesFor(most) : kept;
  candidates.count = 0;
  const reach = Math.round(BURST_REACH_S / ratios.hopS);
  const sums = sumsBefore(ratios, reach);
  for (let frame = 0; frame < frameCount; frame++) {
    moveSums(sums, ratios, frame, reach);
    if (frame > 0 && frame < frameCount - 1) addPeaks(candidates, ratios, frame, sums, 2 * reach + 1);
  }
  return candidates;
}

/** None, with room for so many. */
export function candidatesFor(most: number): PulseCandidates {
  return {
    count: 0,
    frame: new Int32Array(most),
    carrier: new Uint8Array(most),
    peak: new Float32Array(most),
    hz: new Float32Array(most),
    perHz: new Float32Array(most),
    ratio: new Float32Array(most),
    logRatio: new Float32Array(most),
  };
}

/** Adds the maxima of a frame; two of them are never neighbours, so that there is room for all. */
function addPeaks(
  candidates: PulseCandidates,
  ratios: CarrierRatios,
  frame: number,
  sums: Float64Array,
  summed: number,
): void {
  const { ratio, carrierCount, firstCarrierHz, carrierStepHz } = ratios;
  for (let carrier = 1; carrier < carrierCount - 1; carrier++) {
    const at = frame * carrierCount + carrier;
    const here = ratio[at]!;
    if (here < LEAST_RATIO) continue;
    const before = ratio[at - carrierCount]!;
    const after = ratio[at + carrierCount]!;
    if (here <= before || here < after) continue;
    const below = ratio[at - 1]!;
    const above = ratio[at + 1]!;
    if (here <= below || here < above) continue;
    const k = candidates.count++;
    candidates.frame[k] = frame;
    candidates.carrier[k] = carrier;
    candidates.peak[k] = frame + peakOffset(before, here, after);
    const offset = peakOffset(Math.log(below + 0.1), Math.log(here), Math.log(above + 0.1));
    candidates.hz[k] = firstCarrierHz + (carrier + offset) * carrierStepHz;
    candidates.perHz[k] = 1 / Math.sqrt(CARRIER_VARIANCE_HZ2 + NOISE_VARIANCE_HZ2 / here);
    candidates.ratio[k] = here;
    const burst = Math.fround(sums[carrier]! / summed);
    candidates.logRatio[k] = pulseLogRatio(here / Math.max(1, BURST_WEIGHT * burst));
  }
}

/** Sum of each carrier over the frames that the first one's neighbourhood begins with. */
function sumsBefore({ ratio, frameCount, carrierCount }: CarrierRatios, reach: number): Float64Array {
  const sums = new Float64Array(carrierCount);
  const end = Math.min(reach, frameCount) * carrierCount;
  for (let at = 0; at < end; at++) sums[at % carrierCount]! += ratio[at]!;
  return sums;
}

/** Moves the sums over `reach` frames either way from the frame before to this one. */
function moveSums(
  sums: Float64Array,
  { ratio, frameCount, carrierCount }: CarrierRatios,
  frame: number,
  reach: number,
): void {
  if (frame + reach < frameCount) {
    const entering = (frame + reach) * carrierCount;
    for (let k = 0; k < carrierCount; k++) sums[k]! += ratio[entering + k]!;
  }
  if (frame - reach > 0) {
    const leaving = (frame - reach - 1) * carrierCount;
    for (let k = 0; k < carrierCount; k++) sums[k]! -= ratio[leaving + k]!;
  }
}
