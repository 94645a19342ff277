import { choiceCost } from './choice-cost.ts';
import { gapShareCost } from './likelihood.ts';
import { leastLogOtherDensity, logOtherDensity, logPulseDensity } from './pulse-evidence.ts';
import { LARGEST_TUNING_EVIDENCE, withTuning } from './tuning.ts';

/** Spread of ln(time from pulse to pulse / the dance's beat): jitter, drift and differences between runs. */
const BEAT_SPREAD = 0.11;
/** Furthest from the beat that a pulse is looked for, as a share of it. */
const LARGEST_STRAY = 0.25;
/** What beginning a row costs: noise may begin one anywhere. */
const START_COST = 1.5;
/** A row ends where it has lost this much since its best: the silence of a return phase is not bridged. */
const LARGEST_LOSS = 4;
/** Part of what sound in a gap would have earned as a pulse that is taken off. */
const GAP_WEIGHT = 0.5;
/** Share of pulses not sung or lost: an empty place in a row costs at most −ln of it. */
const DROPPED_SHARE = 0.08;
const LARGEST_EVIDENCE = 6;
/** What a place that a call covers counts: a row may go on behind it, at a small price. */
const COVERED_EVIDENCE = -0.1;

/** Times at which a pulse of a dancer may stand. */
export interface Places {
  /** Power over the noise floor; 1 where a call covers a place. */
  readonly power: Float64Array;
  /** ln likelihood ratio that what sounds at a place is at the dancer's carrier. */
  readonly tuningAt: (place: number) => number;
  /** Share of a pulse's power left at each place where others were taken out; null where nothing was. */
  readonly left: Float64Array | null;
  /** 1 where a call covers what a place would tell. */
  readonly covered: Uint8Array;
  /** What `evidenceAt` has worked out so far; NaN where nothing. */
  readonly evidence: Float64Array;
  readonly strength: number;
  /** What a pulse costs for the choice of places about its beat. */
  readonly choice: number;
  /** `logPulseDensity` at this strength, a quarter apart. */
  readonly densities: Float64Array;
  /** From a place to the middles of the gaps around it. */
  readonly gaps: Gaps;
}

type Gaps = readonly [number, number, number, number];

/** Share of a pulse's power from which on all of it counts as left. */
const MOST_LEFT = 0.95;
const STEPS_PER_UNIT = 4;
const TABLE_END = 48;

/**
 * @param strength power of the dancer's pulses over the noise floor
 * @param beat her beat, places
 * @param stepS from one place to the next
 */
export function placesOf(
  heard: Pick<Places, 'power' | 'tuningAt' | 'covered' | 'left'>,
  strength: number,
  beat: number,
  stepS: number,
): Places {
  const { power, tuningAt, left, covered } = heard;
  // Each property by name: what is copied from another object may have another shape, which the engine is slow with.
  return {
    power,
    tuningAt,
    left,
    covered,
    evidence: new Float64Array(power.length).fill(Number.NaN),
    strength,
    choice: choiceCost(BEAT_SPREAD * beat * stepS, strength),
    densities: Float64Array.from({ length: TABLE_END * STEPS_PER_UNIT + 1 }, (_, k) =>
      logPulseDensity(k / STEPS_PER_UNIT, strength),
    ),
    gaps: [-1.5, -0.5, 0.5, 1.5].map((beats) => Math.round(beats * beat)) as unknown as Gaps,
  };
}

/** `logPulseDensity` at a place; where pulses taken out have left less of a pulse, for so much less. */
function densityAt({ densities, strength, left }: Places, ratio: number, k: number): number {
  if (left !== null && left[k]! < MOST_LEFT) return logPulseDensity(ratio, strength * left[k]!);
  return ratio < TABLE_END
    ? densities[Math.round(ratio * STEPS_PER_UNIT)]!
    : logPulseDensity(ratio, strength);
}

/**
 * ln likelihood ratio of a pulse of the dancer's strength, or an empty place, against other sound; the level of
 * bursts is taken from the gaps around, as in `pulseEvidence`.
 */
export function evidenceAt(places: Places, k: number): number {
  if (Number.isNaN(places.evidence[k]!)) putEvidence(places, k);
  return places.evidence[k]!;
}

function putEvidence(places: Places, k: number): void {
  const { power, evidence, gaps } = places;
  if (places.covered[k] === 1) {
    evidence[k] = COVERED_EVIDENCE;
    return;
  }
  const last = power.length - 1;
  let around = 0;
  for (let gap = 0; gap < 4; gap++) around += power[Math.max(0, Math.min(last, k + gaps[gap]!))]!;
  const ratio = power[k]!;
  const odds = withTuning(
    densityAt(places, ratio, k) - logOtherDensity(ratio, around / 4),
    places.tuningAt(k),
    LARGEST_EVIDENCE,
  );
  // A pulse not sung, and one that a call covers, is none of several places taken for it.
  evidence[k] =
    odds >= LARGEST_EVIDENCE
      ? LARGEST_EVIDENCE - places.choice
      : Math.log((1 - DROPPED_SHARE) * Math.exp(odds - places.choice) + DROPPED_SHARE);
}

/** The best rows that end at each place. */
export interface Rows {
  /** Value of the row, and the best value along it. */
  readonly value: Float64Array;
  readonly best: Float64Array;
  /** The place before it in that row, −1 for none. */
  readonly previous: Int32Array;
}

/** Rows before they are searched. */
export function emptyRows(count: number): Rows {
  return {
    value: new Float64Array(count).fill(Number.NEGATIVE_INFINITY),
    best: new Float64Array(count),
    previous: new Int32Array(count).fill(-1),
  };
}

/** What links from one place to the next cost. */
export interface BeatCosts {
  /** By how many places apart they are. */
  readonly cost: Float64Array;
  readonly shortest: number;
  readonly longest: number;
}

/** @param beat of the dancer, places */
export function beatCosts(beat: number): BeatCosts {
  const shortest = Math.ceil(beat * (1 - LARGEST_STRAY));
  const longest = Math.floor(beat * (1 + LARGEST_STRAY));
  const cost = new Float64Array(longest + 1);
  for (let lag = shortest; lag <= longest; lag++) {
    cost[lag] = 0.5 * (Math.log(lag / beat) / BEAT_SPREAD) ** 2;
  }
  return { cost, shortest, longest };
}

/** What a place may be: free, taken since the last search, taken before. */
export const FREE = 0;
export const TAKEN = 1;
const LONG_TAKEN = 2;

/**
 * A row worth this or less at a place is never gone on with: beginning anew there would be worth more. The little
 * taken off is more than rounding.
 */
const DEAD = -START_COST - 1e-6;
/** Least ln likelihood ratio with which a row that begins at a place is not dead. */
const LEAST_ODDS = Math.log((Math.exp(DEAD + START_COST) - DROPPED_SHARE) / (1 - DROPPED_SHARE)) - 1e-6;

/**
 * Finds the best row that ends at each place, from `from` on: 0 at first; later the first place taken since, for only
 * what follows from such places is searched anew. Once as many places as a link can reach back are as they were, so
 * are all up to the next one taken. Most places end no row worth going on with, which is seen without their evidence.
 */
export function searchRows(
  rows: Rows,
  places: Places,
  costs: BeatCosts,
  blocked: Uint8Array,
  from: number,
): void {
  const { value } = rows;
  const { shortest, longest } = costs;
  const settled = from === 0 ? Number.POSITIVE_INFINITY : longest;
  let k = from;
  let looked = -1; // the last place looked at for a row to go on with, and the last that had one
  let alive = -1;
  while (k >= 0 && k < value.length) {
    looked = Math.max(looked, k - longest - 1);
    for (let same = 0; same < settled && k < value.length; k++) {
      for (; looked < k - shortest; looked++) if (value[looked + 1]! > DEAD) alive = looked + 1;
      const before = value[k]!;
      const bestBefore = rows.best[k]!;
      if (blocked[k] !== FREE) {
        blocked[k] = LONG_TAKEN;
        endNone(rows, k);
      } else if (alive >= k - longest || mayBegin(places, k)) {
        linkPlace(rows, places, costs, Math.max(shortest, k - alive), k);
      } else {
        endNone(rows, k);
      }
      same = value[k] === before && rows.best[k] === bestBefore ? same + 1 : 0;
    }
    k = blocked.indexOf(TAKEN, k);
  }
}

function endNone({ value, best }: Rows, k: number): void {
  value[k] = Number.NEGATIVE_INFINITY;
  best[k] = 0;
}

/** Whether a row that begins at a place may be gone on with. */
function mayBegin(places: Places, k: number): boolean {
  if (places.covered[k] === 1) return false;
  const ratio = places.power[k]!;
  const odds = densityAt(places, ratio, k) - leastLogOtherDensity(ratio) + LARGEST_TUNING_EVIDENCE;
  return odds - places.choice >= LEAST_ODDS;
}

/** Finds the best row that ends at a free place, its link not shorter than `shortest`. */
function linkPlace(
  { value, best, previous }: Rows,
  places: Places,
  { cost, longest }: BeatCosts,
  shortest: number,
  k: number,
): void {
  const { power } = places;
  const own = evidenceAt(places, k);
  let top = own - START_COST;
  let topBest = top;
  let link = -1;
  const longestHere = Math.min(longest, k);
  for (let lag = shortest; lag <= longestHere; lag++) {
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
  value[k] = top;
  best[k] = topBest;
  previous[k] = link;
}
