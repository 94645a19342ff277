import { besselI0 } from '../signal/lowpass.ts';
import { peakOffset } from '../signal/peak.ts';
import { medianOf } from '../signal/quantile.ts';
import { carrierOfPulses, carrierPower } from './carrier-envelope.ts';
import { LONGEST_BEAT_S, SHORTEST_BEAT_S } from './pulse-chains.ts';

/** Where a chain's pulses were first seen. Times are seconds from the start of the samples handed in. */
export interface RoughTrain {
  readonly pulseTimesS: readonly number[];
  readonly carrierHz: number;
}

/** A train after its own carrier, beat and pulse strength have been used to look at it again. */
export interface RefinedTrain {
  readonly carrierHz: number;
  readonly beatS: number;
  /** Middle of each pulse, s. */
  readonly pulseTimesS: readonly number[];
  /** Power over the noise floor at each pulse, in the matched window. */
  readonly pulseRatios: readonly number[];
  /** Median of these. */
  readonly pulseRatio: number;
  /** ln likelihood ratio of each pulse against noise, given the train's own strength. */
  readonly evidence: number;
  /** Median power in the gaps between pulses over the median power of the pulses. */
  readonly gapShare: number;
  /** Onset of the first and offset of the last pulse, s. */
  readonly startS: number;
  readonly endS: number;
}

const LARGEST_LOSS = 6;
const STEP_S = 0.001;
const MARGIN_S = 0.45;
const MATCHED_WINDOW_S = 0.024;
const BESIDE_HZ = 70;
const EDGE_WINDOW_S = 0.01;

/**
 * Looks again at a train with a window at its own carrier: finds each pulse's time and strength, drops end
 * pulses that are no stronger than noise would make them, takes up pulses missed at either end and between,
 * and places the onset of the first and the offset of the last pulse from the mean pulse's shape.
 *
 * @param noisePower mean noise power at the carrier in the unit of `carrierPower`
 * @returns null where fewer than three pulses remain
 */
export function refineTrain(
  samples: Float32Array,
  sampleRateHz: number,
  rough: RoughTrain,
  noisePowerAt: (timeS: number, carrierHz: number) => number,
): RefinedTrain | null {
  const odd = (seconds: number) => 2 * Math.round((seconds * sampleRateHz) / 2) + 1;
  const middleS = (rough.pulseTimesS[0]! + rough.pulseTimesS.at(-1)!) / 2;
  const carrierHz = carrierOfPulses(
    samples,
    sampleRateHz,
    rough.pulseTimesS.map((timeS) => timeS * sampleRateHz),
    rough.carrierHz,
    odd(MATCHED_WINDOW_S),
    (hz) => noisePowerAt(middleS, hz),
  );
  const step = Math.max(1, Math.round(STEP_S * sampleRateHz));
  const stepS = step / sampleRateHz;
  const first = rough.pulseTimesS[0]!;
  const last = rough.pulseTimesS.at(-1)!;
  const fromSample = Math.round((first - MARGIN_S) * sampleRateHz);
  const count = Math.ceil((last - first + 2 * MARGIN_S) / stepS);
  const fromS = fromSample / sampleRateHz;
  const noise = noisePowerAt(middleS, carrierHz);
  if (!(noise > 0)) return null;
  const matched = carrierPower(
    samples,
    sampleRateHz,
    carrierHz,
    fromSample,
    count,
    step,
    odd(MATCHED_WINDOW_S),
  );
  for (let k = 0; k < count; k++) matched[k]! /= noise;
  const powerAt = (hz: number, timeS: number) =>
    carrierPower(
      samples,
      sampleRateHz,
      hz,
      Math.round(timeS * sampleRateHz),
      1,
      1,
      odd(MATCHED_WINDOW_S),
    )[0]! / noisePowerAt(middleS, hz);
  const powerBeside = (timeS: number) =>
    Math.max(powerAt(carrierHz - BESIDE_HZ, timeS), powerAt(carrierHz + BESIDE_HZ, timeS)) /
    (powerAt(carrierHz, timeS) + 1e-30);
  const view: MatchedView = { matched, fromS, stepS, powerBeside };

  const pulses = settlePulses(view, rough.pulseTimesS);
  if (pulses.length < 3) return null;
  const beatS = meanBeat(pulses.map((p) => p.timeS));
  const strength = medianOf(pulses.map((p) => p.ratio));
  const evidence = pulses.reduce((sum, p) => sum + pulseEvidence(view, p, beatS, strength), 0);
  const edges = carrierPower(samples, sampleRateHz, carrierHz, fromSample, count, step, odd(EDGE_WINDOW_S));
  const extent = pulseExtent({ ...view, matched: edges }, pulses, beatS);
  return {
    carrierHz,
    beatS,
    pulseTimesS: pulses.map((p) => p.timeS),
    pulseRatios: pulses.map((p) => p.ratio),
    pulseRatio: strength,
    evidence,
    gapShare: gapShareOf(view, pulses, strength),
    startS: pulses[0]!.timeS - extent.beforeS,
    endS: pulses.at(-1)!.timeS + extent.afterS,
  };
}

interface MatchedView {
  readonly matched: Float64Array;
  readonly fromS: number;
  readonly stepS: number;
  /** The larger power over the floor 70 Hz below or above the carrier over that at the carrier. */
  readonly powerBeside: (timeS: number) => number;
}

interface Pulse {
  readonly timeS: number;
  readonly ratio: number;
}

function settlePulses(view: MatchedView, roughTimesS: readonly number[]): Pulse[] {
  let pulses = roughTimesS.map((timeS) => strongestNear(view, timeS, 0.008));
  for (let round = 0; round < 2; round++) {
    const beatS = meanBeat(pulses.map((p) => p.timeS));
    const strength = medianOf(pulses.map((p) => p.ratio));
    pulses = fillBetween(view, pulses, beatS, strength);
    pulses = bestStretch(view, pulses, beatS, strength);
    if (pulses.length < 3) return pulses;
    pulses = extend(view, pulses, beatS, strength, 1);
    pulses = extend(view, pulses, beatS, strength, -1);
  }
  return pulses;
}

function strongestNear(view: MatchedView, timeS: number, reachS: number): Pulse {
  const { matched, fromS, stepS } = view;
  const low = Math.max(1, Math.ceil((timeS - reachS - fromS) / stepS));
  const high = Math.min(matched.length - 2, Math.floor((timeS + reachS - fromS) / stepS));
  let best = Math.min(Math.max(1, Math.round((timeS - fromS) / stepS)), matched.length - 2);
  for (let k = low; k <= high; k++) if (matched[k]! > matched[best]!) best = k;
  const offset = peakOffset(matched[best - 1]!, matched[best]!, matched[best + 1]!);
  return { timeS: fromS + (best + offset) * stepS, ratio: matched[best]! };
}

/**
 * ln likelihood ratio of a pulse of the train's strength against other sound at this moment. Other sound is
 * mostly noise at its floor, at times a burst, whose level is taken from the beats around; and where the power
 * beside the carrier is the greater, a sound at another frequency that leaks into this one.
 */
function pulseEvidence(view: MatchedView, pulse: Pulse, beatS: number, strength: number): number {
  const z = pulse.ratio;
  const burst = Math.max(3, 2 * gapLevel(view, pulse.timeS, beatS));
  const other = logSum(Math.log(1 - BURST_SHARE) - z, Math.log(BURST_SHARE / burst) - z / burst);
  const leak = Math.max(0, Math.log(view.powerBeside(pulse.timeS) / LEAK_SHARE));
  return logPulseDensity(z, strength) - other - LEAK_COST * leak;
}

/** How often sound that is no pulse is a burst above the floor. */
const BURST_SHARE = 0.04;
/** Power 70 Hz beside the carrier over that at the carrier, above which a pulse is doubted, and how much. */
const LEAK_SHARE = 0.6;
const LEAK_COST = 2;

/** Mean power over the floor in the middles of the four gaps around a pulse. */
function gapLevel(view: MatchedView, timeS: number, beatS: number): number {
  let sum = 0;
  for (const beats of [-1.5, -0.5, 0.5, 1.5]) {
    const at = Math.round((timeS + beats * beatS - view.fromS) / view.stepS);
    sum += view.matched[Math.max(0, Math.min(view.matched.length - 1, at))]!;
  }
  return sum / 4;
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

const CHOICE_COST = Math.log(2.5);

/** Goes on from one end beat by beat while a pulse of the train's strength is likelier than other sound. */
function extend(
  view: MatchedView,
  pulses: Pulse[],
  beatS: number,
  strength: number,
  direction: 1 | -1,
): Pulse[] {
  const extended = pulses.slice();
  const endS = view.fromS + view.matched.length * view.stepS;
  for (;;) {
    const end = direction === 1 ? extended.at(-1)! : extended[0]!;
    let taken: Pulse | null = null;
    for (let beats = 1; beats <= 2 && taken === null; beats++) {
      const expectedS = end.timeS + direction * beats * beatS;
      if (expectedS < view.fromS + 0.05 || expectedS > endS - 0.05) break;
      const pulse = strongestNear(view, expectedS, 0.2 * beatS);
      const away = (pulse.timeS - expectedS) / (0.1 * beatS);
      const value = pulseEvidence(view, pulse, beatS, strength) - CHOICE_COST - 0.5 * away * away;
      if (value > (beats - 1) * 2.5) taken = pulse;
    }
    if (taken === null) return extended;
    if (direction === 1) extended.push(taken);
    else extended.unshift(taken);
  }
}

/** Levels of single pulses about the train's, as factors of power, and how often each occurs. */
const LEVELS: readonly (readonly [number, number])[] = [
  [0.4, 0.12],
  [0.65, 0.28],
  [1, 0.35],
  [1.5, 0.25],
];

/**
 * ln density of a power over the floor when a pulse of a known mean strength sounds:
 * exp(−z − s) I0(2 √(s z)), averaged over the levels that pulses take about their train's.
 * Source: non-central chi-square with two degrees of freedom (Rice 1945, Bell Syst Tech J 24:46).
 */
export function logPulseDensity(ratio: number, strength: number): number {
  const mean = Math.max(0.5, strength - 1);
  let sum = Number.NEGATIVE_INFINITY;
  for (const [level, share] of LEVELS) {
    const s = level * mean;
    sum = logSum(sum, Math.log(share) + logBesselI0(2 * Math.sqrt(s * ratio)) - s - ratio);
  }
  return sum;
}

function logSum(a: number, b: number): number {
  const top = Math.max(a, b);
  return top === Number.NEGATIVE_INFINITY ? top : top + Math.log(Math.exp(a - top) + Math.exp(b - top));
}

function logBesselI0(x: number): number {
  return x < 20 ? Math.log(besselI0(x)) : x - 0.5 * Math.log(2 * Math.PI * x) + 1 / (8 * x);
}

function gapShareOf(view: MatchedView, pulses: Pulse[], strength: number): number {
  const gaps: number[] = [];
  for (let k = 1; k < pulses.length; k++) {
    const a = pulses[k - 1]!.timeS;
    const b = pulses[k]!.timeS;
    if (b - a < SHORTEST_BEAT_S * 0.8 || b - a > LONGEST_BEAT_S) continue;
    const middle = Math.round(((a + b) / 2 - view.fromS) / view.stepS);
    gaps.push(view.matched[middle]!);
  }
  return gaps.length === 0 ? 1 : medianOf(gaps) / strength;
}

/** How far a pulse reaches before and after its middle, from the mean of all pulses. */
function pulseExtent(view: MatchedView, pulses: Pulse[], beatS: number): { beforeS: number; afterS: number } {
  const half = Math.round((0.55 * beatS) / view.stepS);
  const profile = new Float64Array(2 * half + 1);
  for (const pulse of pulses) {
    const centre = Math.round((pulse.timeS - view.fromS) / view.stepS);
    for (let k = -half; k <= half; k++) profile[k + half]! += view.matched[centre + k] ?? 0;
  }
  let top = half;
  for (let k = 0; k < profile.length; k++) {
    if (Math.abs(k - half) * view.stepS < 0.008 && profile[k]! > profile[top]!) top = k;
  }
  const least = Math.min(...profile);
  const reach = (direction: 1 | -1): number => {
    const level = least + 0.25 * (profile[top]! - least);
    let k = top;
    while (k + direction >= 0 && k + direction < profile.length && profile[k + direction]! > level)
      k += direction;
    const next = profile[k + direction];
    const fraction = next === undefined ? 0 : (profile[k]! - level) / (profile[k]! - next);
    return Math.abs(k + direction * fraction - half) * view.stepS;
  };
  return { beforeS: reach(-1), afterS: reach(1) };
}

function meanBeat(times: readonly number[]): number {
  const beats = times.slice(1).map((t, k) => t - times[k]!);
  return medianOf(beats);
}
