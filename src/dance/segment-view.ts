import { heldDown, heldToOthers } from '../signal/held-floor.ts';
import { keptRoom, type Room } from '../signal/kept-room.ts';
import { type NoiseFloor, noiseFloor, overFloor } from '../signal/noise-floor.ts';
import { selectRank } from '../signal/quantile.ts';
import { type SpectralFrames, spectralFrames } from '../signal/spectral-frames.ts';
import { withoutSteadyTones } from '../signal/steady-tones.ts';
import type { CarrierRatios } from './pulse-candidates.ts';
import { keptSlowRoom, type SlowRoom, slowCarriers } from './slow-carriers.ts';

/** A stretch of time, s from a segment's start. */
export type Span = readonly [fromS: number, toS: number];

/** A call that was taken out of the sound. */
export interface TakenOut {
  readonly span: Span;
  /** Where what is left of its onset hides the rest; one of `covered`. */
  readonly onset: Span;
  readonly carrierHz: number;
}

/** One stretch of a recording as the detector sees it. Times are seconds from the stretch's first sample. */
export interface SegmentView {
  readonly samples: Float32Array;
  readonly sampleRateHz: number;
  /** Length of the window that powers are taken over, samples. */
  readonly windowLength: number;
  /** Carriers in which dance sound is looked for. */
  readonly carriers: CarrierRatios;
  /** The same over the wider range in which bees call. */
  readonly callCarriers: CarrierRatios;
  /** The same in windows about as long as a short call, which gather more of a tone and less of the noise. */
  readonly slowCallCarriers: CarrierRatios;
  /** Mean noise power at a time and carrier, unit of `spectralFrames` and `powerInWindow`. */
  readonly noisePowerAt: (timeS: number, carrierHz: number) => number;
  /** The same of the floor that `callCarriers` stand over. */
  readonly callNoisePowerAt: (timeS: number, carrierHz: number) => number;
  /** Share of a pulse's power at a time and carrier that went with pulses taken out; null where nothing was. */
  readonly hiddenAt: ((timeS: number, carrierHz: number) => number) | null;
  /** Where calls hide what a dancer would be heard to do, as far as is known. */
  readonly covered: readonly Span[];
  readonly takenOut: readonly TakenOut[];
}

/** Where what a view is made of stands. */
export interface SegmentRoom {
  readonly samples: Room<Float32Array>;
  readonly carriers: Room<Float32Array>;
  readonly callCarriers: Room<Float32Array>;
  readonly slow: SlowRoom;
}

/** Room for one view at a time. */
export const keptSegmentRoom = (): SegmentRoom => ({
  samples: keptRoom(Float32Array),
  carriers: keptRoom(Float32Array),
  callCarriers: keptRoom(Float32Array),
  slow: keptSlowRoom(),
});

/** The window is about as long as a pulse (15 to 30 ms), so that it gathers a pulse and little else. */
const WINDOW_S = 0.024;
const HOP_S = 0.004;
const LEAST_CARRIER_HZ = 120;
const CALL_LOW_HZ = 250;
const CALL_HIGH_HZ = 620;
/**
 * A run may sound for most of several seconds, and so does tooting: under either the floor may not rise with it; under
 * calls not even where hum swells.
 */
const HELD = { reachS: 10, factor: 1.5 };
/** Bins above the calls: only knocks, hisses and harmonics sound here. */
const REFERENCE_LOW_HZ = 450;
const REFERENCE_HIGH_HZ = 900;

/** Powers and their ratios to the floor: nothing of them is left in a view. */
const powerRoom = keptRoom(Float32Array);
const ratioRoom = keptRoom(Float32Array);

/** Looks at a segment once for all that follows: offset and steady tones taken out, powers over the noise floor at the
 * carriers of dance sound and of calls.
 *
 * @param recorded samples of one channel, full scale at ±1
 * @param band carriers of dance sound, Hz
 * @param room taken for as long as the view is used; default: a new one */
export function viewSegment(
  recorded: Float32Array,
  sampleRateHz: number,
  band: { bandLowHz: number; bandHighHz: number },
  room = keptSegmentRoom(),
): SegmentView {
  const samples = withoutSteadyTones(withoutOffset(recorded, room.samples), sampleRateHz, [
    band.bandLowHz,
    band.bandHighHz,
  ]);
  const windowLength = 2 * Math.round((WINDOW_S * sampleRateHz) / 2) + 1;
  const transformLength = 2 ** Math.ceil(Math.log2(windowLength));
  const hopLength = Math.round(HOP_S * sampleRateHz);
  const binWidthHz = sampleRateHz / transformLength;
  const firstBin = Math.max(1, Math.floor(Math.min(LEAST_CARRIER_HZ, band.bandLowHz) / binWidthHz) - 1);
  const lastBin = Math.min(transformLength / 2 - 1, Math.ceil(REFERENCE_HIGH_HZ / binWidthHz));
  const shape = { windowLength, transformLength, hopLength };
  const frames = spectralFrames(samples, sampleRateHz, shape, { firstBin, lastBin }, powerRoom);
  const hold = { firstBin, lastBin, ...HELD };
  const floor = heldToOthers(noiseFloor(frames, firstBin, lastBin), hold);
  const width = lastBin - firstBin + 1;
  const ratio = ratioRoom(frames.frameCount * width);
  const firstReference = Math.ceil(REFERENCE_LOW_HZ / binWidthHz) - firstBin;
  const look = (ratios: Float32Array, from: number, to: number) =>
    discountKnocks(ratios, from, to, width, firstReference);
  const pick = (lowHz: number, highHz: number, columnRoom: Room<Float32Array>): CarrierRatios => {
    const from = Math.max(firstBin, Math.round(lowHz / binWidthHz));
    const to = Math.min(lastBin, Math.round(highHz / binWidthHz));
    return columnsOf(frames, ratio, width, from - firstBin, to - firstBin, from * binWidthHz, columnRoom);
  };
  overFloor(frames, floor, firstBin, lastBin, { into: ratio, look });
  const carriers = pick(band.bandLowHz - binWidthHz, band.bandHighHz + binWidthHz, room.carriers);
  const callFloor = heldDown(floor, hold);
  overFloor(frames, callFloor, firstBin, lastBin, { into: ratio, knownOver: floor, look });
  return {
    samples,
    sampleRateHz,
    windowLength,
    carriers,
    callCarriers: pick(CALL_LOW_HZ, CALL_HIGH_HZ, room.callCarriers),
    slowCallCarriers: slowCarriers(
      samples,
      sampleRateHz,
      { lowHz: CALL_LOW_HZ, highHz: CALL_HIGH_HZ, ...HELD },
      room.slow,
    ),
    noisePowerAt: powerOf(floor, frames, firstBin, lastBin),
    callNoisePowerAt: powerOf(callFloor, frames, firstBin, lastBin),
    hiddenAt: null,
    covered: [],
    takenOut: [],
  };
}

/** A floor between its anchors and bins, by straight lines. */
function powerOf(
  { level, anchorCount, spacingFrames }: NoiseFloor,
  { hopS, binCount, binWidthHz }: SpectralFrames,
  firstBin: number,
  lastBin: number,
): SegmentView['noisePowerAt'] {
  return (timeS, carrierHz) => {
    const anchor = Math.max(0, timeS / hopS / spacingFrames);
    const a = Math.min(anchorCount - 2, Math.floor(anchor));
    const bin = Math.max(firstBin, Math.min(lastBin - 1, Math.floor(carrierHz / binWidthHz)));
    const u = Math.min(1, anchor - a);
    const v = Math.max(0, Math.min(1, carrierHz / binWidthHz - bin));
    const at = a * binCount + bin;
    const here = (1 - v) * level[at]! + v * level[at + 1]!;
    const next = (1 - v) * level[at + binCount]! + v * level[at + binCount + 1]!;
    return (1 - u) * here + u * next;
  };
}

/** An offset, such as some recorders add, would leak into the bins of dance sound. */
function withoutOffset(samples: Float32Array, room: Room<Float32Array>): Float32Array {
  let sum = 0;
  for (let k = 0; k < samples.length; k++) sum += samples[k]!;
  const mean = sum / samples.length;
  const centred = room(samples.length);
  for (let k = 0; k < samples.length; k++) centred[k] = samples[k]! - mean;
  return centred;
}

/** What the median of the reference bins may be by chance. */
const LARGEST_EXCESS = 1.5;
/**
 * Second and third harmonic of a dancer may fill most of the reference bins, but leave some between them: so many of
 * the lowest lie under this part of a knock's median.
 */
const LEFT_SHARE = 1 / 6;
const LEFT_PART = 0.2;

/**
 * A knock or hiss lifts all bins at once. Where the median of the bins above the calls stands over its floor,
 * the whole frame is divided by it, but for where the lowest of them show that it is none.
 */
function discountKnocks(
  ratio: Float32Array,
  from: number,
  to: number,
  width: number,
  firstReference: number,
): void {
  const scratch = new Float32Array(width - firstReference);
  const middle = scratch.length >> 1;
  const left = Math.floor(LEFT_SHARE * scratch.length);
  for (let at = from; at < to; at += width) {
    // Most frames are no knock, which counting tells sooner than the median does.
    if (quietCount(ratio, at + firstReference, at + width) > middle) continue;
    for (let k = 0; k < scratch.length; k++) scratch[k] = ratio[at + firstReference + k]!;
    const median = selectRank(scratch, scratch.length, middle);
    const excess = Math.min(median, selectRank(scratch, scratch.length, left) / LEFT_PART) / LARGEST_EXCESS;
    if (excess > 1) for (let k = 0; k < width; k++) ratio[at + k]! /= excess;
  }
}

function quietCount(ratio: Float32Array, from: number, to: number): number {
  let quiet = 0;
  for (let k = from; k < to; k++) if (ratio[k]! <= LARGEST_EXCESS) quiet++;
  return quiet;
}

function columnsOf(
  frames: SpectralFrames,
  ratio: Float32Array,
  width: number,
  from: number,
  to: number,
  firstCarrierHz: number,
  room: Room<Float32Array>,
): CarrierRatios {
  const carrierCount = to - from + 1;
  const columns = room(frames.frameCount * carrierCount);
  for (let frame = 0; frame < frames.frameCount; frame++) {
    copyRow(columns, frame * carrierCount, ratio, frame * width + from, carrierCount);
  }
  return {
    ratio: columns,
    frameCount: frames.frameCount,
    carrierCount,
    firstCarrierHz,
    carrierStepHz: frames.binWidthHz,
    hopS: frames.hopS,
  };
}

function copyRow(into: Float32Array, to: number, source: Float32Array, from: number, count: number): void {
  for (let k = 0; k < count; k++) into[to + k] = source[from + k]!;
}
