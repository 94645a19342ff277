import { carrierSound, powersInWindow, windowOf } from './carrier-envelope.ts';
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
  const rows = emptyRows(count);
  const { value, previous } = rows;
  for (let pass = 0; pass < PASSES; pass++) {
    searchRows(rows, power, evidence, guide.beatS / stepS, blocked, pass === 0 ? 0 : blocked.indexOf(TAKEN));
    let taken = false;
    for (const end of endsFromBest(value)) {
      if (blocked[end] !== FREE) continue;
      const places = rowTo(end, previous);
      if (places.some((k) => blocked[k] !== FREE)) continue;
      blocked.fill(TAKEN, Math.max(0, places[0]! - apart), places.at(-1)! + apart + 1);
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
  powersInWindow(sound, step, window, power);
  let noise = 1;
  for (let k = 0; k < count; k++) {
    // The floor is known every 0.5 s.
    if (k % 50 === 0) noise = view.noisePowerAt((from + k * step) / sampleRateHz, carrierHz) + 1e-30;
    power[k]! /= noise;
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
  const [a, b, c, d] = [-1.5, -0.5, 0.5, 1.5].map((beats) => Math.round(beats * beat)) as Offsets;
  const last = power.length - 1;
  const within = (k: number) => Math.max(0, Math.min(last, k));
  const evidence = new Float64Array(power.length);
  for (let k = 0; k <= last; k++) {
    const z = power[k]!;
    const around =
      power[within(k + a)]! + power[within(k + b)]! + power[within(k + c)]! + power[within(k + d)]!;
    const density = z < TABLE_END ? table[Math.round(z * STEPS_PER_UNIT)]! : logPulseDensity(z, strength);
    const odds = density - logOtherDensity(z, around / 4);
    evidence[k] =
      odds >= LARGEST_EVIDENCE
        ? LARGEST_EVIDENCE
        : Math.log((1 - DROPPED_SHARE) * Math.exp(odds) + DROPPED_SHARE);
  }
  return evidence;
}

type Offsets = [number, number, number, number];

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

/** The best rows that end at each place. */
interface Rows {
  /** Value of the row, and the best value along it. */
  readonly value: Float64Array;
  readonly best: Float64Array;
  /** The place before it in that row, −1 for none. */
  readonly previous: Int32Array;
}

function emptyRows(count: number): Rows {
  return {
    value: new Float64Array(count).fill(Number.NEGATIVE_INFINITY),
    best: new Float64Array(count),
    previous: new Int32Array(count).fill(-1),
  };
}

/** What a place may be: free, taken since the last search, taken before. */
const FREE = 0;
const TAKEN = 1;
const LONG_TAKEN = 2;

/**
 * Finds the best row that ends at each place, from `from` on: 0 at first; later the first place taken since, for only
 * what follows from such places is searched anew. Once as many places as a link can reach back are as they were, so
 * are all up to the next one taken.
 */
function searchRows(
  rows: Rows,
  power: Float64Array,
  evidence: Float64Array,
  beat: number,
  blocked: Uint8Array,
  from: number,
): void {
  const shortest = Math.ceil(beat * (1 - LARGEST_STRAY));
  const longest = Math.floor(beat * (1 + LARGEST_STRAY));
  const cost = new Float64Array(longest + 1);
  for (let lag = shortest; lag <= longest; lag++) {
    cost[lag] = LINK_COST + 0.5 * (Math.log(lag / beat) / BEAT_SPREAD) ** 2;
  }
  let k = from;
  while (k >= 0 && k < power.length) {
    let same = 0;
    for (; same < longest && k < power.length; k++) {
      if (blocked[k] === FREE) {
        same = linkPlace(rows, power, evidence, cost, shortest, k) ? 0 : same + 1;
      } else {
        same = 0;
        blocked[k] = LONG_TAKEN;
        rows.value[k] = Number.NEGATIVE_INFINITY;
      }
    }
    k = blocked.indexOf(TAKEN, k);
  }
}

/** Finds the best row that ends at a free place; whether it is worth something else than before. */
function linkPlace(
  { value, best, previous }: Rows,
  power: Float64Array,
  evidence: Float64Array,
  cost: Float64Array,
  shortest: number,
  k: number,
): boolean {
  const own = evidence[k]!;
  let top = own - START_COST;
  let topBest = top;
  let link = -1;
  const longest = Math.min(cost.length - 1, k);
  for (let lag = shortest; lag <= longest; lag++) {
    const before = k - lag;
    const ungapped = value[before]! + own - cost[lag]!;
    // The gap only takes off: most places are settled without it.
    if (ungapped <= top || ungapped < best[before]! - LARGEST_LOSS) continue;
    const gap = power[k - (lag >> 1)]!;
    const here = ungapped - GAP_WEIGHT * gapShareCost(gap, Math.sqrt(power[before]! * power[k]!));
    if (here <= top || here < best[before]! - LARGEST_LOSS) continue;
    top = here;
    topBest = Math.max(here, best[before]!);
    link = before;
  }
  const changed = value[k] !== top || best[k] !== topBest;
  value[k] = top;
  best[k] = topBest;
  previous[k] = link;
  return changed;
}
