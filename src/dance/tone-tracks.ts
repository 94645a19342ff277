import { logsOf } from '../signal/fast-log.ts';
import type { CarrierRatios } from './pulse-candidates.ts';

/** The carriers of a tone, frame by frame, and its first frame. */
export interface ToneTrack {
  readonly start: number;
  readonly track: readonly number[];
}

/** ln power over the floor, averaged over about 30 ms: from which on a tone may sound, and to which it may fall. */
export interface ToneLimits {
  readonly onLog: number;
  readonly offLog: number;
}

/** Half of this, in whole frames, is averaged on either side of a frame. */
const AVERAGE_S = 0.02;
const LARGEST_STEP = 1; // carriers from one frame to the next
export const LEAST_TONE_S = 0.035;
const LONGEST_GAP_S = 0.012;

/**
 * Stretches in which the power at a slowly moving carrier stays over the noise floor, each in several readings.
 * Averaging ln power rather than power makes a gap count: the pulses of a train are too far apart to join.
 */
export function toneTracks(ratios: CarrierRatios, { onLog, offLog }: ToneLimits): ToneTrack[] {
  const { frameCount, carrierCount, hopS } = ratios;
  const averages = averagedLogs(ratios, Math.max(1, Math.round(AVERAGE_S / hopS / 2)));
  const tracks: ToneTrack[] = [];
  const gapFrames = Math.round(LONGEST_GAP_S / hopS);
  const leastFrames = Math.floor(LEAST_TONE_S / hopS);
  const taken = new Uint8Array(frameCount * carrierCount);
  for (let frame = 0; frame < frameCount; frame++) {
    const carrier = strongestPeak(ratios, averages, taken, frame, onLog);
    if (carrier < 0) continue;
    const track = followTone(ratios, averages, taken, frame, carrier, gapFrames, offLog);
    for (let k = 0; k < track.length; k++) {
      for (let c = track[k]! - 2; c <= track[k]! + 2; c++) {
        if (c >= 0 && c < carrierCount) taken[(frame + k) * carrierCount + c] = 1;
      }
    }
    const levels = track.map((carrier, k) => averages[(frame + k) * carrierCount + carrier]!);
    for (const [from, to] of stretchesOf(levels, leastFrames, onLog)) {
      tracks.push({ start: frame + from, track: track.slice(from, to + 1) });
    }
  }
  return tracks;
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
function stretchesOf(
  levels: readonly number[],
  leastFrames: number,
  onLog: number,
): (readonly [number, number])[] {
  const stretches: (readonly [number, number])[] = [];
  const read = (first: number, last: number): void => {
    if (last - first < leastFrames) return;
    let loudest = first;
    for (let k = first + 1; k <= last; k++) if (levels[k]! > levels[loudest]!) loudest = k;
    if (levels[loudest]! < onLog) return;
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
  onLog: number,
): number {
  const { carrierCount } = ratios;
  let best = -1;
  for (let carrier = 1; carrier < carrierCount - 1; carrier++) {
    const at = frame * carrierCount + carrier;
    const here = averages[at]!;
    if (here < onLog || taken[at] || here < averages[at - 1]! || here < averages[at + 1]!) continue;
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
  offLog: number,
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
    silent = averages[at]! >= offLog && !taken[at] ? 0 : silent + 1;
    track.push(best);
  }
  return track.slice(0, track.length - silent);
}
