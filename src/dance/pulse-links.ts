import { gapShareCost } from './likelihood.ts';
import type { CarrierRatios, PulseCandidates } from './pulse-candidates.ts';

/** Longest and shortest time from one pulse to the next that counts as a beat (12 to 35 /s, with margin). */
export const SHORTEST_BEAT_S = 0.0265;
export const LONGEST_BEAT_S = 0.088;

/**
 * What a link costs at a beat of 50 ms: the choices that noise offers must not pay, on average. A beat leaves
 * the next pulse a stretch of time in proportion to it, and with it that many noise peaks to choose from: the
 * cost grows with ln(beat).
 */
const LINK_COST = 0.1;
/** A beat left out (a pulse lost in noise or not sung). */
const SKIP_COST = 1.8;
/** Spread of ln(beat / smoothed beat before), from jitter of the pulses and of their measured times. */
const BEAT_SPREAD = 0.11;
/** Furthest in carrier from one pulse to the next. */
export const LARGEST_MOVE_HZ = 45;
/**
 * A chain ends where it has lost this much since its best: the silence between two runs of one dancer must not
 * be bridged by noise just because more pulses wait beyond.
 */
const LARGEST_LOSS = 9;
/** Share of the newest in the smoothed beat and carrier. */
const SMOOTHING = 0.35;

/**
 * Links between pulses, each with the best chain that ends with it; parallel arrays, in order of their later
 * pulse. Kept from one search to the next, because making and clearing them would take longer than filling them.
 */
export interface Links {
  count: number;
  from: Int32Array;
  to: Int32Array;
  /** Link before this one in the best chain, −1 for none. */
  previous: Int32Array;
  /** Smoothed beat of that chain, frames, and its logarithm. */
  beat: Float32Array;
  logBeat: Float32Array;
  /** Smoothed carrier of that chain, Hz. */
  hz: Float32Array;
  /** Value of that chain, and the best value along it. */
  value: Float32Array;
  best: Float32Array;
}

/** Links with room for none yet. */
export function emptyLinks(): Links {
  return {
    count: 0,
    from: new Int32Array(0),
    to: new Int32Array(0),
    previous: new Int32Array(0),
    beat: new Float32Array(0),
    logBeat: new Float32Array(0),
    hz: new Float32Array(0),
    value: new Float32Array(0),
    best: new Float32Array(0),
  };
}

function growLinks(links: Links): void {
  const capacity = 2 * links.from.length + 4096;
  const larger = <A extends Int32Array | Float32Array>(array: A, next: A): A => {
    next.set(array);
    return next;
  };
  links.from = larger(links.from, new Int32Array(capacity));
  links.to = larger(links.to, new Int32Array(capacity));
  links.previous = larger(links.previous, new Int32Array(capacity));
  links.beat = larger(links.beat, new Float32Array(capacity));
  links.logBeat = larger(links.logBeat, new Float32Array(capacity));
  links.hz = larger(links.hz, new Float32Array(capacity));
  links.value = larger(links.value, new Float32Array(capacity));
  links.best = larger(links.best, new Float32Array(capacity));
}

/**
 * Links all pairs of candidates that may be neighbours, one beat apart or two with a pulse missing between, by
 * dynamic programming: a link's value is the best sum of pulse evidence over all chains that end with it. A link
 * follows another at a cost that grows with the change of beat and carrier, so that noise, which keeps no beat,
 * cannot string its peaks together. Sound in the gap between two pulses that is nearly as strong as the pulses
 * counts against the link: that is what tells a pulse train from a call.
 *
 * @param links filled anew
 * @param left candidates not to be used: 1; all others 0
 */
export function linkCandidates(
  links: Links,
  ratios: CarrierRatios,
  candidates: PulseCandidates,
  left: Uint8Array,
): void {
  const { count, peak } = candidates;
  const reach = (2 * LONGEST_BEAT_S) / ratios.hopS + 1;
  const firstLink = new Int32Array(count + 1);
  const best = new Float32Array(count); // over the chains that end with each pulse, itself alone included
  links.count = 0;
  let oldest = 0;
  for (let node = 0; node < count; node++) {
    firstLink[node] = links.count;
    if (left[node]) continue;
    while (peak[node]! - peak[oldest]! > reach) oldest++;
    linkNode(links, ratios, candidates, left, firstLink, best, node, oldest);
  }
}

/** Adds the links that end with one candidate. */
function linkNode(
  links: Links,
  ratios: CarrierRatios,
  candidates: PulseCandidates,
  left: Uint8Array,
  firstLink: Int32Array,
  best: Float32Array,
  node: number,
  oldest: number,
): void {
  const { peak, hz, carrier, frame, ratio, logRatio } = candidates;
  const { hopS } = ratios;
  const shortest = SHORTEST_BEAT_S / hopS;
  const longest = LONGEST_BEAT_S / hopS;
  const beatCost = LINK_COST + Math.log(hopS / 0.05);
  const time = peak[node]!;
  const here = hz[node]!;
  // What a chain must be worth to be gone on with at the shortest beat, a little more than rounding less.
  const least = beatCost + Math.log(shortest) - logRatio[node]! - 1e-3;
  for (let before = node - 1; before >= oldest; before--) {
    const move = here - hz[before]!;
    if (move > LARGEST_MOVE_HZ || move < -LARGEST_MOVE_HZ) continue;
    if (left[before] || best[before]! < least) continue;
    const distance = time - peak[before]!;
    if (distance < shortest || distance > 2 * longest) continue;
    const from = firstLink[before]!;
    const to = firstLink[before + 1]!;
    if (distance <= longest) {
      const pulses = Math.sqrt(ratio[before]! * ratio[node]!);
      const gap = gapRatio(ratios, frame[before]!, frame[node]!, carrier[node]!);
      const own = logRatio[node]! - gapShareCost(gap, pulses) - beatCost;
      addBest(links, candidates, from, to, before, node, distance, own, false);
    }
    if (distance >= 2 * shortest && to > from && best[before]! >= least + SKIP_COST) {
      const own = logRatio[node]! - SKIP_COST - beatCost;
      addBest(links, candidates, from, to, before, node, distance / 2, own, true);
    }
  }
  let most = logRatio[node]!;
  for (let link = firstLink[node]!; link < links.count; link++) most = Math.max(most, links.value[link]!);
  best[node] = most;
}

/**
 * Adds the link to the best of the chains that end with links `from` up to `to`, or starts a chain there if
 * that is better.
 */
function addBest(
  links: Links,
  candidates: PulseCandidates,
  from: number,
  to: number,
  before: number,
  node: number,
  beat: number,
  own: number,
  skips: boolean,
): void {
  const hz = candidates.hz[node]!;
  const perHz = candidates.perHz[node]!;
  const hzAtStart = candidates.hz[before]!;
  // No chain starts with a pulse left out.
  const startValue = skips ? Number.NEGATIVE_INFINITY : candidates.logRatio[before]!;
  const logBeat = Math.log(beat);
  const startMove = (hz - hzAtStart) * perHz;
  let best = startValue - 0.25 * startMove * startMove;
  let previous = -1;
  for (let link = from; link < to; link++) {
    const value = links.value[link]!;
    if (value <= best) continue;
    const change = (logBeat - links.logBeat[link]!) * (1 / BEAT_SPREAD);
    const move = (hz - links.hz[link]!) * perHz;
    const withCost = value - 0.5 * (change * change + move * move);
    if (withCost > best) {
      best = withCost;
      previous = link;
    }
  }
  const value = own + best - logBeat;
  if (!(value > 0)) return;
  const bestBefore = previous < 0 ? startValue : links.best[previous]!;
  if (value < bestBefore - LARGEST_LOSS) return;
  if (links.count === links.from.length) growLinks(links);
  const at = links.count++;
  links.from[at] = before;
  links.to[at] = node;
  links.previous[at] = previous;
  links.value[at] = value;
  links.best[at] = Math.max(value, bestBefore);
  if (previous < 0) {
    links.beat[at] = beat;
    links.logBeat[at] = logBeat;
    links.hz[at] = hzAtStart + 0.5 * (hz - hzAtStart);
  } else {
    const smoothed = links.beat[previous]! + SMOOTHING * (beat - links.beat[previous]!);
    links.beat[at] = smoothed;
    links.logBeat[at] = Math.log(smoothed);
    links.hz[at] = links.hz[previous]! + SMOOTHING * (hz - links.hz[previous]!);
  }
}

/** The least power over the floor between two pulses, away from the pulses themselves. */
function gapRatio(ratios: CarrierRatios, fromFrame: number, toFrame: number, carrier: number): number {
  const { ratio, carrierCount } = ratios;
  let least = Number.POSITIVE_INFINITY;
  const end = (toFrame - 2) * carrierCount + carrier;
  for (let at = (fromFrame + 2) * carrierCount + carrier; at <= end; at += carrierCount) {
    if (ratio[at]! < least) least = ratio[at]!;
  }
  return least;
}
