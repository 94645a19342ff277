import { pulseLogRatio } from './likelihood.ts';
import type { CarrierRatios, PulseCandidates } from './pulse-candidates.ts';

/** A row of pulses at a steady beat and carrier: what a pulse train looks like before it is judged. */
export interface PulseChain {
  /** Indices into the candidates, in order of time. */
  readonly candidates: readonly number[];
  /** ln likelihood ratio of the chain against noise, less the costs of its links. */
  readonly score: number;
}

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
/** Spread of the carrier from pulse to pulse, Hz. */
const CARRIER_SPREAD_HZ = 14;
const LARGEST_MOVE_HZ = 45;
/**
 * A chain ends where it has lost this much since its best: the silence between two runs of one dancer must not
 * be bridged by noise just because more pulses wait beyond.
 */
const LARGEST_LOSS = 9;
/** Share of the newest in the smoothed beat and carrier. */
const SMOOTHING = 0.35;
const LEAST_SCORE = 5;
const LEAST_PULSES = 4;
const PASSES = 3;

/**
 * Finds chains of candidates with a steady beat and carrier by dynamic programming over links. A link's value
 * is the best sum of pulse evidence over all chains that end with it; a link may follow another only at a cost
 * that grows with the change of beat, so that noise, which keeps no beat, cannot string its peaks together.
 * Sound in the gap between two pulses that is nearly as strong as the pulses counts against the link: that is
 * what tells a pulse train from a call.
 */
export function pulseChains(ratios: CarrierRatios, candidates: PulseCandidates): PulseChain[] {
  return chainsOfAllPasses(ratios, candidates, null);
}

/** Chains that a dancer's known carrier and beat bring out, among the candidates near her carrier. */
export function guidedChains(ratios: CarrierRatios, candidates: PulseCandidates, guide: Guide): PulseChain[] {
  const near: number[] = [];
  for (let node = 0; node < candidates.count; node++) {
    const timeS = candidates.peak[node]! * ratios.hopS;
    if (timeS < guide.fromS) continue;
    if (timeS > guide.toS) break;
    if (Math.abs(candidates.hz[node]! - guide.carrierHz) <= GUIDED_REACH_HZ) near.push(node);
  }
  return chainsAmong(ratios, candidates, near, guide);
}

function chainsAmong(
  ratios: CarrierRatios,
  candidates: PulseCandidates,
  near: readonly number[],
  guide: Guide | null,
): PulseChain[] {
  const pick = <A extends Int32Array | Uint8Array | Float32Array>(values: A, made: A): A => {
    near.forEach((node, k) => {
      made[k] = values[node]!;
    });
    return made;
  };
  const chosen: PulseCandidates = {
    count: near.length,
    frame: pick(candidates.frame, new Int32Array(near.length)),
    carrier: pick(candidates.carrier, new Uint8Array(near.length)),
    peak: pick(candidates.peak, new Float32Array(near.length)),
    hz: pick(candidates.hz, new Float32Array(near.length)),
    ratio: pick(candidates.ratio, new Float32Array(near.length)),
    logRatio: pick(candidates.logRatio, new Float32Array(near.length)),
  };
  return chainsOfAllPasses(ratios, chosen, guide).map(({ candidates: nodes, score }) => ({
    candidates: nodes.map((k) => near[k]!),
    score,
  }));
}

function chainsOfAllPasses(
  ratios: CarrierRatios,
  candidates: PulseCandidates,
  guide: Guide | null,
): PulseChain[] {
  const used = new Uint8Array(candidates.count);
  const chains: PulseChain[] = [];
  for (let pass = 0; pass < PASSES; pass++) {
    const found = chainsOfOnePass(ratios, candidates, used, guide);
    chains.push(...found);
    if (found.length === 0) break;
  }
  return chains;
}

/**
 * What is known of a dancer from her clearer runs. It narrows the choices that noise has, and so lowers what a
 * link must cost.
 */
export interface Guide {
  readonly carrierHz: number;
  readonly beatS: number;
  readonly fromS: number;
  readonly toS: number;
}

const GUIDED_REACH_HZ = 30;
const GUIDED_SPREAD_HZ = 13;
const GUIDED_BEAT_SPREAD = 0.11;
const GUIDED_GAIN = 1.6;

/** What a link gains or loses by a guide: its beat and carrier should be the dancer's. */
function guideGain(guide: Guide, beatS: number, hz: number): number {
  const beat = Math.log(beatS / guide.beatS) / GUIDED_BEAT_SPREAD;
  const carrier = (hz - guide.carrierHz) / GUIDED_SPREAD_HZ;
  return GUIDED_GAIN - 0.5 * (beat * beat + carrier * carrier);
}

interface Links {
  count: number;
  /** Smoothed carrier of the best chain up to the link, Hz; `beat` likewise, frames. */
  hz: Float32Array;
  from: Int32Array;
  beat: Float32Array;
  value: Float32Array;
  /** Best value of the chain up to the link. */
  best: Float32Array;
  previous: Int32Array;
}

function chainsOfOnePass(
  ratios: CarrierRatios,
  candidates: PulseCandidates,
  used: Uint8Array,
  guide: Guide | null,
): PulseChain[] {
  const { links, firstLink } = linkCandidates(ratios, candidates, used, guide);
  const to = new Int32Array(links.count);
  for (let node = 0; node < candidates.count; node++) to.fill(node, firstLink[node], firstLink[node + 1]);

  // The best chain is taken first; a chain that would share a pulse with a better one waits for the next pass.
  const order: number[] = [];
  for (let link = 0; link < links.count; link++) if (links.value[link]! >= LEAST_SCORE) order.push(link);
  order.sort((a, b) => links.value[b]! - links.value[a]! || a - b);
  const chains: PulseChain[] = [];
  for (const last of order) {
    const nodes = [to[last]!];
    let free = used[to[last]!] === 0;
    for (let link = last; free && link >= 0; link = links.previous[link]!) {
      const node = links.from[link]!;
      free = used[node] === 0;
      nodes.push(node);
    }
    if (!free || nodes.length < LEAST_PULSES) continue;
    nodes.reverse();
    chains.push({ candidates: nodes, score: links.value[last]! });
    for (const node of nodes) markAround(candidates, used, node, ratios.hopS);
  }
  return chains;
}

/** One pulse shows in neighbouring carriers and frames: all of these are spent with it. */
function markAround(candidates: PulseCandidates, used: Uint8Array, node: number, hopS: number): void {
  const reach = 0.012 / hopS;
  const { peak, hz } = candidates;
  const near = (other: number) => Math.abs(hz[other]! - hz[node]!) <= LARGEST_MOVE_HZ;
  for (let other = node; other >= 0 && peak[node]! - peak[other]! <= reach + 1; other--) {
    if (near(other) && Math.abs(peak[node]! - peak[other]!) <= reach) used[other] = 1;
  }
  for (let other = node + 1; other < candidates.count && peak[other]! - peak[node]! <= reach + 1; other++) {
    if (near(other) && Math.abs(peak[node]! - peak[other]!) <= reach) used[other] = 1;
  }
}

function linkCandidates(
  ratios: CarrierRatios,
  candidates: PulseCandidates,
  used: Uint8Array,
  guide: Guide | null,
) {
  const { count, peak, hz, carrier, ratio, logRatio } = candidates;
  const shortest = SHORTEST_BEAT_S / ratios.hopS;
  const longest = LONGEST_BEAT_S / ratios.hopS;
  const links = emptyLinks(3 * count + 1024);
  const firstLink = new Int32Array(count + 1);
  let oldest = 0;

  for (let node = 0; node < count; node++) {
    firstLink[node] = links.count;
    if (used[node]) continue;
    const time = peak[node]!;
    while (time - peak[oldest]! > 2 * longest + 1) oldest++;
    for (let before = node - 1; before >= oldest; before--) {
      const distance = time - peak[before]!;
      if (distance < shortest || used[before]) continue;
      if (distance > 2 * longest) continue;
      const move = hz[before]! - hz[node]!;
      if (move > LARGEST_MOVE_HZ || move < -LARGEST_MOVE_HZ) continue;
      const gain = (beat: number) => (guide === null ? 0 : guideGain(guide, beat * ratios.hopS, hz[node]!));
      if (distance <= longest) {
        const gap = gapRatio(ratios, candidates.frame[before]!, candidates.frame[node]!, carrier[node]!);
        const own = logRatio[node]! + gain(distance) - gapCost(gap, Math.sqrt(ratio[before]! * ratio[node]!));
        addBest(links, firstLink, candidates, before, node, distance, own, logRatio[before]!, ratios.hopS);
      }
      if (distance >= 2 * shortest) {
        const own = logRatio[node]! + gain(distance / 2) - SKIP_COST;
        addBest(
          links,
          firstLink,
          candidates,
          before,
          node,
          distance / 2,
          own,
          Number.NEGATIVE_INFINITY,
          ratios.hopS,
        );
      }
    }
  }
  firstLink[count] = links.count;
  return { links, firstLink };
}

/** Adds the link to the best chain that ends at `before`, or starts a chain there if that is better. */
function addBest(
  links: Links,
  firstLink: Int32Array,
  candidates: PulseCandidates,
  before: number,
  node: number,
  beat: number,
  own: number,
  startValue: number,
  hopS: number,
): void {
  const hz = candidates.hz[node]!;
  const startMove = (hz - candidates.hz[before]!) / CARRIER_SPREAD_HZ;
  let best = startValue - 0.25 * startMove * startMove;
  let previous = -1;
  const end = firstLink[before + 1]!;
  for (let link = firstLink[before]!; link < end; link++) {
    const value = links.value[link]!;
    if (value <= best) continue;
    const change = Math.log(beat / links.beat[link]!) / BEAT_SPREAD;
    const move = (hz - links.hz[link]!) / CARRIER_SPREAD_HZ;
    const withCost = value - 0.5 * (change * change + move * move);
    if (withCost > best) {
      best = withCost;
      previous = link;
    }
  }
  const value = own + best - LINK_COST - Math.log((beat * hopS) / 0.05);
  const bestBefore = previous < 0 ? startValue : links.best[previous]!;
  if (!(value > 0) || value < bestBefore - LARGEST_LOSS) return;
  if (links.count === links.from.length) growLinks(links);
  const at = links.count++;
  const beatBefore = previous < 0 ? beat : links.beat[previous]!;
  const hzBefore = previous < 0 ? candidates.hz[before]! : links.hz[previous]!;
  const share = previous < 0 ? 0.5 : SMOOTHING;
  links.from[at] = before;
  links.beat[at] = beatBefore + share * (beat - beatBefore);
  links.hz[at] = hzBefore + share * (hz - hzBefore);
  links.value[at] = value;
  links.best[at] = Math.max(value, bestBefore);
  links.previous[at] = previous;
}

/** The least power over the floor between two pulses, away from the pulses themselves. */
function gapRatio(ratios: CarrierRatios, fromFrame: number, toFrame: number, carrier: number): number {
  const { ratio, carrierCount } = ratios;
  let least = Number.POSITIVE_INFINITY;
  for (let frame = fromFrame + 2; frame <= toFrame - 2; frame++) {
    const value = ratio[frame * carrierCount + carrier]!;
    if (value < least) least = value;
  }
  return least;
}

/**
 * Sound in the gap costs what it would have earned as sound, in so far as it is as strong as the pulses: under
 * 15 % of their power nothing, from 50 % on all.
 */
function gapCost(gap: number, pulses: number): number {
  const share = gap / pulses;
  if (share <= 0.15) return 0;
  const weight = Math.min(1, Math.log(share / 0.15) / Math.log(0.5 / 0.15));
  return weight * Math.max(0, pulseLogRatio(gap));
}

function emptyLinks(capacity: number): Links {
  return {
    count: 0,
    from: new Int32Array(capacity),
    beat: new Float32Array(capacity),
    hz: new Float32Array(capacity),
    value: new Float32Array(capacity),
    best: new Float32Array(capacity),
    previous: new Int32Array(capacity),
  };
}

function growLinks(links: Links): void {
  const capacity = 2 * links.from.length;
  const larger = <A extends Int32Array | Float32Array>(array: A, next: A): A => {
    next.set(array);
    return next;
  };
  links.from = larger(links.from, new Int32Array(capacity));
  links.beat = larger(links.beat, new Float32Array(capacity));
  links.hz = larger(links.hz, new Float32Array(capacity));
  links.best = larger(links.best, new Float32Array(capacity));
  links.value = larger(links.value, new Float32Array(capacity));
  links.previous = larger(links.previous, new Int32Array(capacity));
}
