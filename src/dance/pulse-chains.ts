import { byValue } from '../signal/by-value.ts';
import type { CarrierRatios, PulseCandidates } from './pulse-candidates.ts';
import { emptyLinks, LARGEST_MOVE_HZ, type Links, linkCandidates } from './pulse-links.ts';

/** A row of pulses at a steady beat and carrier: what a pulse train looks like before it is judged. */
export interface PulseChain {
  /** Indices into the candidates, in order of time. */
  readonly candidates: readonly number[];
  /** ln likelihood ratio of the chain against noise, less the costs of its links. */
  readonly score: number;
}

/** Least score and number of pulses of a chain. */
const LEAST_SCORE = 5;
const LEAST_PULSES = 4;
/** Chains that wait are linked anew once less than this. */
const PASSES = 3;

const links: Links = emptyLinks();

/**
 * Finds chains of candidates with a steady beat and carrier. The best chain is taken first; a chain that would share a pulse with a better one waits for the next pass,
 * which links anew without the pulses that are spent, and only there where some chain waits.
 */
export function pulseChains(ratios: CarrierRatios, candidates: PulseCandidates): PulseChain[] {
  const used = new Uint8Array(candidates.count);
  let left: Uint8Array = used;
  const chains: PulseChain[] = [];
  for (let pass = 0; pass < PASSES; pass++) {
    linkCandidates(links, ratios, candidates, left);
    const { taken, waiting } = takeChains(links, candidates, used, ratios.hopS);
    chains.push(...taken);
    if (taken.length === 0 || waiting.length === 0) break;
    left = usedOrAway(candidates, used, waiting, ratios.hopS);
  }
  return chains;
}

/** Chains from the best down, as long as they share no pulse; and the spans of candidates of those that do. */
function takeChains(links: Links, candidates: PulseCandidates, used: Uint8Array, hopS: number) {
  const order = linksWorth(links, LEAST_SCORE).sort((a, b) => byValue(links.value, a, b));
  const taken: PulseChain[] = [];
  const waiting: (readonly [number, number])[] = [];
  for (const last of order) {
    const nodes = [links.to[last]!];
    let free = used[links.to[last]!] === 0;
    for (let link = last; link >= 0; link = links.previous[link]!) {
      const node = links.from[link]!;
      free &&= used[node] === 0;
      nodes.push(node);
    }
    if (nodes.length < LEAST_PULSES) continue;
    if (!free) {
      waiting.push([nodes.at(-1)!, nodes[0]!]);
      continue;
    }
    nodes.reverse();
    taken.push({ candidates: nodes, score: links.value[last]! });
    for (const node of nodes) markAround(candidates, used, node, hopS);
  }
  return { taken, waiting };
}

function linksWorth({ value, count }: Links, least: number): number[] {
  const worth: number[] = [];
  for (let link = 0; link < count; link++) if (value[link]! >= least) worth.push(link);
  return worth;
}

/** A chain that waits may begin sooner once it must do without the pulses that are spent. */
const SOONER_S = 1;

/** Candidates that are spent, or stand in no span of a chain that waits: 1; all others 0. */
function usedOrAway(
  candidates: PulseCandidates,
  used: Uint8Array,
  waiting: readonly (readonly [number, number])[],
  hopS: number,
): Uint8Array {
  const { peak, count } = candidates;
  const left = new Uint8Array(count).fill(1);
  for (const [first, last] of waiting) {
    const from = peak[first]! - SOONER_S / hopS;
    // Another span may have opened these already.
    for (let node = last; node >= 0 && peak[node]! >= from; node--) left[node] = used[node]!;
  }
  return left;
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
    if (near(other) && Math.abs(peak[other]! - peak[node]!) <= reach) used[other] = 1;
  }
}
