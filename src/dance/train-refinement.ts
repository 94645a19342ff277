import { meanOf, medianOf } from '../signal/quantile.ts';
import { carrierOfPulses } from './carrier-envelope.ts';
import { choiceCost } from './choice-cost.ts';
import { LEAST_LEFT } from './hidden.ts';
import {
  keptViewRoom,
  MATCHED_WINDOW_S,
  type MatchedView,
  matchedView,
  oddLength,
  type Pulse,
  strongestNear,
} from './matched-view.ts';
import { pulseEvidence } from './pulse-evidence.ts';
import { pulseExtent } from './pulse-extent.ts';
import { LONGEST_BEAT_S, SHORTEST_BEAT_S } from './pulse-links.ts';
import type { SegmentView } from './segment-view.ts';

/** Where a chain's pulses were first seen. Times are seconds from the start of the samples handed in. */
export interface RoughTrain {
  readonly pulseTimesS: readonly number[];
  readonly carrierHz: number;
  /** Known to be one train from its first pulse to its last, whatever sounds in between. */
  readonly whole?: boolean;
  /** Known to have these pulses and no other. */
  readonly settled?: boolean;
  /** Time from pulse to pulse where it is known: where a call hides pulses, the median gap would not tell it. */
  readonly beatS?: number;
}

/** A train after its own carrier, beat and pulse strength have been used to look at it again. */
export interface RefinedTrain {
  readonly carrierHz: number;
  readonly beatS: number;
  /** Middle of each pulse, s. */
  readonly pulseTimesS: readonly number[];
  /** Power over the noise floor at each pulse, in the matched window. */
  readonly pulseRatios: readonly number[];
  /** The larger power 70 Hz below or above the carrier over that at the carrier, at each pulse. */
  readonly pulseBesides: readonly number[];
  /** Median of these, with what was taken out of the pulses put back. */
  readonly pulseRatio: number;
  /** Sum over the pulses of ln likelihood ratio against other sound, given the train's own strength. */
  readonly evidence: number;
  /** Mean over the pulses of ln likelihood ratio that each is at the train's carrier. */
  readonly tuning: number;
  /** Median power in the gaps between pulses over the median power of the pulses. */
  readonly gapShare: number;
  /** Onset of the first and offset of the last pulse, s. */
  readonly startS: number;
  readonly endS: number;
}

/** The sound that trains are in: what of a `SegmentView` refining needs. */
export type HeardSound = Pick<SegmentView, 'samples' | 'sampleRateHz' | 'noisePowerAt' | 'hiddenAt'>;

/** A dancer keeps her carrier: a row looked for at hers may not be found at another's. */
const LARGEST_STRAY_HZ = 12;
/** A stretch of pulses ends where its evidence has fallen this much since its best. */
const LARGEST_LOSS = 6;
/** How far around the rough train it is looked at. */
const MARGIN_S = 0.45;

const viewRoom = keptViewRoom();

/**
 * Looks again at a train with a window at its own carrier: finds each pulse's time and strength, drops end
 * pulses that are no stronger than noise would make them, takes up pulses missed at either end and between,
 * and places the onset of the first and the offset of the last pulse from the mean pulse's shape.
 *
 * @returns null where fewer than three pulses remain
 */
export function refineTrain(
  { samples, sampleRateHz, noisePowerAt, hiddenAt }: HeardSound,
  rough: RoughTrain,
): RefinedTrain | null {
  const first = rough.pulseTimesS[0]!;
  const last = rough.pulseTimesS.at(-1)!;
  const noiseAt = (hz: number) => noisePowerAt((first + last) / 2, hz);
  const measuredHz = carrierOfPulses(
    samples,
    sampleRateHz,
    rough.pulseTimesS.map((timeS) => timeS * sampleRateHz),
    rough.carrierHz,
    oddLength(MATCHED_WINDOW_S, sampleRateHz),
    noiseAt,
  );
  const carrierHz =
    rough.beatS !== undefined && Math.abs(measuredHz - rough.carrierHz) > LARGEST_STRAY_HZ
      ? rough.carrierHz
      : measuredHz;
  const range = { fromS: first - MARGIN_S, toS: last + MARGIN_S };
  const view = matchedView(samples, sampleRateHz, carrierHz, range, noiseAt, hiddenAt, viewRoom);
  if (view === null) return null;
  const pulses = rough.settled ? nearestPulses(view, rough) : settlePulses(view, rough);
  if (pulses.length < 3) return null;
  const beatS = meanBeat(pulses, rough.beatS);
  const strength = strengthOf(view, pulses);
  const extent = pulseExtent(view, pulses, beatS);
  return {
    carrierHz,
    beatS,
    pulseTimesS: pulses.map((p) => p.timeS),
    pulseRatios: pulses.map((p) => p.ratio),
    pulseBesides: pulses.map((p) => view.powerBeside(p.timeS)),
    pulseRatio: strength,
    evidence: pulses.reduce((sum, p) => sum + pulseEvidence(view, p, beatS, strength), 0),
    tuning: meanOf(pulses.map((pulse) => view.tuningOf(pulse))),
    gapShare: gapShareOf(view, pulses, strength),
    startS: pulses[0]!.timeS - extent.beforeS,
    endS: pulses.at(-1)!.timeS + extent.afterS,
  };
}

/** Median power over the floor, with what was taken out of the pulses put back. */
const strengthOf = (view: MatchedView, pulses: readonly Pulse[]): number =>
  medianOf(pulses.map(({ timeS, ratio }) => ratio / Math.max(LEAST_LEFT, view.leftAt(timeS))));

const nearestPulses = (view: MatchedView, rough: RoughTrain): Pulse[] =>
  apart(rough.pulseTimesS.map((timeS) => strongestNear(view, timeS, 0.008)));

function settlePulses(view: MatchedView, rough: RoughTrain): Pulse[] {
  let pulses = nearestPulses(view, rough);
  for (let round = 0; round < 2; round++) {
    const beatS = meanBeat(pulses, rough.beatS);
    const strength = strengthOf(view, pulses);
    pulses = fillBetween(view, pulses, beatS, strength);
    if (!rough.whole) pulses = bestStretch(view, pulses, beatS, strength);
    if (pulses.length < 3) return pulses;
    pulses = extend(view, pulses, beatS, strength, 1);
    pulses = extend(view, pulses, beatS, strength, -1);
  }
  return pulses;
}

/** Two places may have the same strongest moment: of pulses nearer than any beat only the stronger stays. */
function apart(pulses: readonly Pulse[]): Pulse[] {
  const kept: Pulse[] = [];
  for (const pulse of pulses) {
    const last = kept.at(-1);
    if (last === undefined || pulse.timeS - last.timeS >= SHORTEST_BEAT_S / 2) kept.push(pulse);
    else if (pulse.ratio > last.ratio) kept[kept.length - 1] = pulse;
  }
  return kept;
}

/** Pulses that a beat calls for where two neighbours stand two or more beats apart. */
function fillBetween(view: MatchedView, pulses: Pulse[], beatS: number, strength: number): Pulse[] {
  const filled: Pulse[] = [pulses[0]!];
  for (let k = 1; k < pulses.length; k++) {
    const from = pulses[k - 1]!.timeS;
    const gapS = pulses[k]!.timeS - from;
    const beats = Math.round(gapS / beatS);
    for (let j = 1; j < beats; j++) {
      const pulse = strongestNear(view, from + (j * gapS) / beats, 0.15 * beatS);
      if (pulseEvidence(view, pulse, beatS, strength) > 0) filled.push(pulse);
    }
    filled.push(pulses[k]!);
  }
  return filled;
}

/**
 * The stretch of pulses with the most evidence (Kadane's maximal sum) in which the evidence never falls by
 * more than `LARGEST_LOSS` from its best: where a train was strung together with the next one over silence,
 * one of them is left.
 */
function bestStretch(view: MatchedView, pulses: Pulse[], beatS: number, strength: number): Pulse[] {
  let sum = 0;
  let from = 0;
  let best = { value: 0, from: 0, to: 0 };
  let top = 0;
  for (let k = 0; k < pulses.length; k++) {
    sum += Math.min(8, pulseEvidence(view, pulses[k]!, beatS, strength));
    if (sum < 0 || sum < top - LARGEST_LOSS) {
      sum = 0;
      top = 0;
      from = k + 1;
    } else if (sum > top) {
      top = sum;
      if (top > best.value) best = { value: top, from, to: k + 1 };
    }
  }
  return pulses.slice(best.from, best.to);
}

/** Spread of a pulse's time about a beat on from a train's end, as a share of the beat. */
const END_SPREAD = 0.1;
/** What a pulse beyond a train's end costs over the choice of times. */
const GOING_ON_COST = 0.4;
/** So many pulses at an end tell how strong the next one may be. */
const LAST_PULSES = 5;

/** Goes on from one end beat by beat while a pulse of the train's strength is likelier than other sound. */
function extend(
  view: MatchedView,
  pulses: Pulse[],
  beatS: number,
  strength: number,
  direction: 1 | -1,
): Pulse[] {
  const extended = pulses.slice();
  const endS = view.fromS + view.count * view.stepS;
  for (;;) {
    const expected = strengthAtEnd(extended, strength, direction);
    const cost = GOING_ON_COST + choiceCost(END_SPREAD * beatS, expected);
    const end = direction === 1 ? extended.at(-1)! : extended[0]!;
    let taken: Pulse | null = null;
    for (let beats = 1; beats <= 2 && taken === null; beats++) {
      const expectedS = end.timeS + direction * beats * beatS;
      if (expectedS < view.fromS + 0.05 || expectedS > endS - 0.05) break;
      const pulse = strongestNear(view, expectedS, 0.2 * beatS);
      const away = (pulse.timeS - expectedS) / (END_SPREAD * beatS);
      const value = pulseEvidence(view, pulse, beatS, expected, true) - cost - 0.5 * away * away;
      if (value > (beats - 1) * 2.5) taken = pulse;
    }
    if (taken === null) return extended;
    if (direction === 1) extended.push(taken);
    else extended.unshift(taken);
  }
}

/**
 * What the next pulse beyond an end is expected to be: no stronger than the train's, and where the train fades there,
 * half of the way, in ln, to its last pulses.
 */
function strengthAtEnd(pulses: readonly Pulse[], strength: number, direction: 1 | -1): number {
  if (pulses.length < LAST_PULSES) return strength;
  const last = direction === 1 ? pulses.slice(-LAST_PULSES) : pulses.slice(0, LAST_PULSES);
  return Math.min(strength, Math.sqrt(strength * medianOf(last.map(({ ratio }) => ratio))));
}

function gapShareOf(view: MatchedView, pulses: Pulse[], strength: number): number {
  const gaps: number[] = [];
  for (let k = 1; k < pulses.length; k++) {
    const a = pulses[k - 1]!.timeS;
    const b = pulses[k]!.timeS;
    if (b - a < SHORTEST_BEAT_S * 0.8 || b - a > LONGEST_BEAT_S) continue;
    const middle = Math.round(((a + b) / 2 - view.fromS) / view.stepS);
    gaps.push(view.matched(middle));
  }
  return gaps.length === 0 ? 1 : medianOf(gaps) / strength;
}

/** Median time from pulse to pulse, s; where the beat is known, of the whole beats between them. */
function meanBeat(pulses: readonly Pulse[], knownS?: number): number {
  const gapsS = pulses.slice(1).map((pulse, k) => pulse.timeS - pulses[k]!.timeS);
  return medianOf(
    knownS === undefined ? gapsS : gapsS.map((gapS) => gapS / Math.max(1, Math.round(gapS / knownS))),
  );
}
