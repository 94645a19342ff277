import { besselI0 } from '../signal/lowpass.ts';
import { LEAST_LEFT } from './hidden.ts';
import type { MatchedView, Pulse } from './matched-view.ts';
import { withTuning } from './tuning.ts';

/**
 * ln likelihood ratio of a pulse of the train's strength against other sound at this moment. Other sound is
 * mostly noise at its floor, at times a burst, whose level is taken from the beats around; and where the power
 * beside the carrier is the greater, a sound at another frequency that leaks into this one. Where most of it
 * was taken out nothing is known of it.
 *
 * @param soft whether the pulse may be a soft one, such as a run begins and ends with
 */
export function pulseEvidence(
  view: MatchedView,
  pulse: Pulse,
  beatS: number,
  strength: number,
  soft = false,
): number {
  const z = pulse.ratio;
  const left = view.leftAt(pulse.timeS);
  if (left < LEAST_LEFT) return 0;
  const other = logOtherDensity(z, gapLevel(view, pulse.timeS, beatS));
  const leak = Math.max(0, Math.log(view.powerBeside(pulse.timeS) / LEAK_SHARE));
  return (
    withTuning(logPulseDensity(z, strength * left, soft) - other, view.tuningOf(pulse), LARGEST_EVIDENCE) -
    LEAK_COST * leak
  );
}

/** No single pulse may count for more. */
const LARGEST_EVIDENCE = 8;
/** How often sound that is no pulse is a burst above the floor. */
const BURST_SHARE = 0.04;
/** Power 70 Hz beside the carrier over that at the carrier, above which a pulse is doubted, and how much. */
const LEAK_SHARE = 0.6;
const LEAK_COST = 2;

/** ln density of a power over the floor where no pulse sounds, but bursts of about twice `level`, 3 at least, may. */
export function logOtherDensity(ratio: number, level: number): number {
  const burst = Math.max(LEAST_BURST, 2 * level);
  // Mostly the least.
  const logShare = burst === LEAST_BURST ? LOG_LEAST_BURST_SHARE : Math.log(BURST_SHARE / burst);
  return logSum(LOG_UNBROKEN - ratio, logShare - ratio / burst);
}

/** What `logOtherDensity` is at least, whatever the level. */
export const leastLogOtherDensity = (ratio: number): number => LOG_UNBROKEN - ratio;

const LOG_UNBROKEN = Math.log(1 - BURST_SHARE);
const LEAST_BURST = 3;
const LOG_LEAST_BURST_SHARE = Math.log(BURST_SHARE / LEAST_BURST);

/** Mean power over the floor in the middles of the four gaps around a pulse. */
function gapLevel(view: MatchedView, timeS: number, beatS: number): number {
  let sum = 0;
  for (const beats of [-1.5, -0.5, 0.5, 1.5]) {
    const at = Math.round((timeS + beats * beatS - view.fromS) / view.stepS);
    sum += view.matched(Math.max(0, Math.min(view.count - 1, at)));
  }
  return sum / 4;
}

/** Levels of single pulses about the train's, as factors of power, and how often each occurs. */
const LEVELS = levelsOf([
  [0.4, 0.12],
  [0.65, 0.28],
  [1, 0.35],
  [1.5, 0.25],
]);
/** Those of soft pulses besides. */
const SOFT_LEVELS = levelsOf([
  [0.12, 0.03],
  [0.03, 0.02],
]);
/** Soft pulses are looked for where they stand so far over the noise; below, noise would pass for them. */
const LEAST_SOFT = 4;

interface Level {
  readonly factor: number;
  readonly logShare: number;
}

function levelsOf(shares: readonly (readonly [factor: number, share: number])[]): Level[] {
  return shares.map(([factor, share]) => ({ factor, logShare: Math.log(share) }));
}

/**
 * ln density of a power over the floor when a pulse of a known mean strength sounds:
 * exp(−z − s) I0(2 √(s z)) with s the strength less the noise's 1, averaged over the levels, by how often each occurs,
 * that pulses take about their train's.
 * Source: non-central chi-square with two degrees of freedom (Rice 1945, Bell Syst Tech J 24:46).
 *
 * @param soft whether it may be a soft one: what these add comes on top of the usual levels' whole
 */
export function logPulseDensity(ratio: number, strength: number, soft = false): number {
  const mean = Math.max(0.5, strength - 1);
  let sum = Number.NEGATIVE_INFINITY;
  for (const level of LEVELS) sum = logSum(sum, logDensityAt(level, ratio, mean));
  if (!soft) return sum;
  for (const level of SOFT_LEVELS) {
    if (level.factor * mean >= LEAST_SOFT) sum = logSum(sum, logDensityAt(level, ratio, mean));
  }
  return sum;
}

function logDensityAt({ factor, logShare }: Level, ratio: number, mean: number): number {
  const s = factor * mean;
  return logShare + logBesselI0(2 * Math.sqrt(s * ratio)) - s - ratio;
}

/** ln(e^a + e^b). */
function logSum(a: number, b: number): number {
  const top = Math.max(a, b);
  if (top === Number.NEGATIVE_INFINITY) return top;
  return top + Math.log(1 + Math.exp(Math.min(a, b) - top));
}

function logBesselI0(x: number): number {
  return x < 20 ? Math.log(besselI0(x)) : x - 0.5 * Math.log(2 * Math.PI * x) + 1 / (8 * x);
}
