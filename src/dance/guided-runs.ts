import { carrierSound, powerInWindow, windowOf } from './carrier-envelope.ts';
import { gapShareCost } from './likelihood.ts';
import { MATCHED_WINDOW_S, oddLength } from './matched-view.ts';
import { logOtherDensity, logPulseDensity } from './pulse-evidence.ts';
import type { SegmentView } from './segment-view.ts';

/** What is known of a dancer from her clearer runs, and between which times her others may be. */
export interface Guide {
  readonly carrierHz: number;
  readonly beatS: number;
  /** Power of her pulses over the noise floor in the matched window. */
  readonly strength: number;
  readonly fromS: number;
  readonly toS: number;
}

/** A row of pulses that fits a guide. */
export interface GuidedRun {
  readonly pulseTimesS: readonly number[];
  /** ln likelihood ratio of the row against noise, less the costs of its links. */
  readonly score: number;
}

const STEP_S = 0.002;
/** Spread of ln(time from pulse to pulse / the dance's beat): jitter, drift and differences between runs. */
const BEAT_SPREAD = 0.11;
/** Furthest from the beat that a pulse is looked for, as a share of it. */
const LARGEST_STRAY = 0.25;
/** What a link costs for the choice of times that noise has within that reach. */
const LINK_COST = 0.2;
/** What beginning a row costs: noise may begin one anywhere. */
const START_COST = 1.5;
const LEAST_SCORE = 2;
const LEAST_PULSES = 3;
/** A row ends where it has lost this much since its best: the silence of a return phase is not bridged. */
const LARGEST_LOSS = 4;
/** Part of what sound in a gap would have earned as a pulse that is taken off. */
const GAP_WEIGHT = 0.5;
/** Share of pulses not sung or lost: an empty place in a row costs at most −ln of it. */
const DROPPED_SHARE = 0.08;
const LARGEST_EVIDENCE = 6;
/** A place with less evidence than this is left out of the row's pulses. */
const LEAST_EVIDENCE = -1;
/** The same dancer's next run is at least this far from a row taken. */
const APART_S = 0.15;
const PASSES = 3;

/**
 * Rows of pulses that fit a dancer's carrier, beat and strength: a Viterbi search over times 2 ms apart. With
 * strength and beat known every moment has its likelihood ratio, so that a pulse too weak to be a peak still
 * counts for what it is, and a missing one has its price. Of rows that overlap the best is taken.
 */
export function guidedRuns(view: SegmentView, guide: Guide): GuidedRun[] {
  const { samples, sampleRateHz } = view;
  const step = Math.max(1, Math.round(STEP_S * sampleRateHz));
  const from = Math.max(0, Math.round(guide.fromS * sampleRateHz));
  const to = Math.min(samples.length, Math.round(guide.toS * sampleRateHz));
  const count = Math.floor((to - from) / step);
  if (count < 2) return [];
  const stepS = step / sampleRateHz;
  const power = powersAt(view, guide.carrierHz, { from, count, step });
  const evidence = evidenceOf(power, guide.strength, guide.beatS / stepS);
  const blocked = new Uint8Array(count);
  const apart = Math.round(APART_S / stepS);
  const runs: GuidedRun[] = [];
  for (let pass = 0; pass < PASSES; pass++) {
    const { value, previous } = searchRows(power, evidence, guide.beatS / stepS, blocked);
    let taken = false;
    for (const end of endsFromBest(value)) {
      if (blocked[end] === 1) continue;
      const places = rowTo(end, previous);
      if (places.some((k) => blocked[k] === 1)) continue;
      blocked.fill(1, Math.max(0, places[0]! - apart), places.at(-1)! + apart + 1);
      taken = true;
      const pulses = places.filter((k) => evidence[k]! > LEAST_EVIDENCE);
      if (pulses.length < LEAST_PULSES) continue;
      runs.push({ pulseTimesS: pulses.map((k) => (from + k * step) / sampleRateHz), score: value[end]! });
    }
    if (!taken) break;
  }
  return runs;
}

/** Power over the noise floor in the matched window at `count` places `step` samples apart. */
function powersAt(
  view: SegmentView,
  carrierHz: number,
  { from, count, step }: { from: number; count: number; step: number },
): Float64Array {
  const { samples, sampleRateHz } = view;
  const length = oddLength(MATCHED_WINDOW_S, sampleRateHz);
  const window = windowOf(length);
  const sound = carrierSound(samples, sampleRateHz, carrierHz, from, count * step, length);
  const power = new Float64Array(count);
  let noise = 1;
  for (let k = 0; k < count; k++) {
    // The floor is known every 0.5 s.
    if (k % 50 === 0) noise = view.noisePowerAt((from + k * step) / sampleRateHz, carrierHz) + 1e-30;
    power[k] = powerInWindow(sound, k * step, window) / noise;
  }
  return power;
}

const STEPS_PER_UNIT = 4;
const TABLE_END = 48;

/**
 * ln likelihood ratio of a pulse of the dancer's strength, or an empty place, against other sound, at each
 * place; the level of bursts is taken from the gaps around, as in `pulseEvidence`.
 */
function evidenceOf(power: Float64Array, strength: number, beat: number): Float64Array {
  const table = Float64Array.from({ length: TABLE_END * STEPS_PER_UNIT + 1 }, (_, k) =>
    logPulseDensity(k / STEPS_PER_UNIT, strength),
  );
  const offsets = [-1.5, -0.5, 0.5, 1.5].map((beats) => Math.round(beats * beat));
  const last = power.length - 1;
  return power.map((z, k) => {
    let level = 0;
    for (const offset of offsets) level += power[Math.max(0, Math.min(last, k + offset))]! / 4;
    const density = z < TABLE_END ? table[Math.round(z * STEPS_PER_UNIT)]! : logPulseDensity(z, strength);
    const odds = density - logOtherDensity(z, level);
    if (odds >= LARGEST_EVIDENCE) return LARGEST_EVIDENCE;
    return Math.log((1 - DROPPED_SHARE) * Math.exp(odds) + DROPPED_SHARE);
  });
}

/** Places at which a row worth it may end, from the best down. */
function endsFromBest(value: Float64Array): number[] {
  const ends: number[] = [];
  for (let k = 0; k < value.length; k++) if (value[k]! >= LEAST_SCORE) ends.push(k);
  return ends.sort((a, b) => value[b]! - value[a]! || a - b);
}

function rowTo(end: number, previous: Int32Array): number[] {
  const places: number[] = [];
  for (let k = end; k >= 0; k = previous[k]!) places.push(k);
  return places.reverse();
}

/** Value of the best row that ends at each place, and the place before it in that row, −1 for none. */
function searchRows(power: Float64Array, evidence: Float64Array, beat: number, blocked: Uint8Array) {
  const shortest = Math.ceil(beat * (1 - LARGEST_STRAY));
  const longest = Math.floor(beat * (1 + LARGEST_STRAY));
  const cost = new Float64Array(longest + 1);
  for (let lag = shortest; lag <= longest; lag++) {
    cost[lag] = LINK_COST + 0.5 * (Math.log(lag / beat) / BEAT_SPREAD) ** 2;
  }
  const value = new Float64Array(power.length).fill(Number.NEGATIVE_INFINITY);
  const best = new Float64Array(power.length);
  const previous = new Int32Array(power.length).fill(-1);
  for (let k = 0; k < power.length; k++) {
    if (blocked[k] === 1) continue;
    let top = evidence[k]! - START_COST;
    let topBest = top;
    for (let lag = shortest; lag <= longest && lag <= k; lag++) {
      const before = k - lag;
      const ungapped = value[before]! + evidence[k]! - cost[lag]!;
      // The gap only takes off: most places are settled without it.
      if (ungapped <= top || ungapped < best[before]! - LARGEST_LOSS) continue;
      const gap = power[k - (lag >> 1)]!;
      const here = ungapped - GAP_WEIGHT * gapShareCost(gap, Math.sqrt(power[before]! * power[k]!));
      if (here <= top || here < best[before]! - LARGEST_LOSS) continue;
      top = here;
      topBest = Math.max(here, best[before]!);
      previous[k] = before;
    }
    value[k] = top;
    best[k] = topBest;
  }
  return { value, previous };
}
