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

/** Moments and carriers at which a pulse may stand, in order of frame; parallel arrays. */
export interface PulseCandidates {
  readonly count: number;
  readonly frame: Int32Array;
  readonly carrier: Uint8Array;
  /** Time of the peak between frames, in frames. */
  readonly peak: Float32Array;
  /** Frequency of the peak between carriers, Hz. */
  readonly hz: Float32Array;
  /** Power over the noise floor at the peak. */
  readonly ratio: Float32Array;
  /** ln likelihood ratio of pulse against noise. */
  readonly logRatio: Float32Array;
}

/** Below this a peak says less for a pulse than for noise. */
const LEAST_RATIO = 1;

/** Reach and weight of the local mean that a peak must stand out from, beside the noise floor. */
const BURST_REACH_S = 0.2;
const BURST_WEIGHT = 0.5;

/**
 * Every local maximum in time and carrier of the power over the noise floor. Bursts of hum outlast pulses: a
 * peak is therefore weighed against the noise floor or half the mean over the neighbouring ± 0.2 s, whichever
 * is higher. Pulses fill less than half the time, so that they stand out from either.
 */
export function pulseCandidates(ratios: CarrierRatios): PulseCandidates {
  const { ratio, frameCount, carrierCount, firstCarrierHz, carrierStepHz } = ratios;
  const capacity = Math.ceil((frameCount * carrierCount) / 4) + 16;
  const frames = new Int32Array(capacity);
  const carriers = new Uint8Array(capacity);
  const peaks = new Float32Array(capacity);
  const frequencies = new Float32Array(capacity);
  const powers = new Float32Array(capacity);
  const logRatios = new Float32Array(capacity);
  const burst = localMeans(ratios, Math.round(BURST_REACH_S / ratios.hopS));
  let count = 0;
  for (let frame = 1; frame < frameCount - 1; frame++) {
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
      if (count === capacity) break;
      frames[count] = frame;
      carriers[count] = carrier;
      peaks[count] = frame + peakOffset(before, here, after);
      const offset = peakOffset(Math.log(below + 0.1), Math.log(here), Math.log(above + 0.1));
      frequencies[count] = firstCarrierHz + (carrier + offset) * carrierStepHz;
      powers[count] = here;
      logRatios[count] = pulseLogRatio(here / Math.max(1, BURST_WEIGHT * burst[at]!));
      count++;
    }
  }
  return {
    count,
    frame: frames.subarray(0, count),
    carrier: carriers.subarray(0, count),
    peak: peaks.subarray(0, count),
    hz: frequencies.subarray(0, count),
    ratio: powers.subarray(0, count),
    logRatio: logRatios.subarray(0, count),
  };
}

/** Mean of each carrier over `reach` frames either way. */
function localMeans(ratios: CarrierRatios, reach: number): Float32Array {
  const { ratio, frameCount, carrierCount } = ratios;
  const means = new Float32Array(ratio.length);
  for (let carrier = 0; carrier < carrierCount; carrier++) {
    let sum = 0;
    for (let frame = 0; frame < Math.min(reach, frameCount); frame++)
      sum += ratio[frame * carrierCount + carrier]!;
    for (let frame = 0; frame < frameCount; frame++) {
      if (frame + reach < frameCount) sum += ratio[(frame + reach) * carrierCount + carrier]!;
      if (frame - reach > 0) sum -= ratio[(frame - reach - 1) * carrierCount + carrier]!;
      means[frame * carrierCount + carrier] = sum / (2 * reach + 1);
    }
  }
  return means;
}
