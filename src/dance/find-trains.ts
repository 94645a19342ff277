import { type PulseCandidates, pulseCandidates } from './pulse-candidates.ts';
import { type Guide, type PulseChain, pulseChains } from './pulse-chains.ts';
import type { SegmentView } from './segment-view.ts';
import { type RefinedTrain, refineTrain } from './train-refinement.ts';

/** A train before it is judged. */
export interface TrainCandidate extends RefinedTrain {
  /** Score of the chain it grew from. */
  readonly chainScore: number;
}

/** All candidates for trains of a segment, in order of start, and the pulse candidates they were made of. */
export function findTrains(view: SegmentView): { trains: TrainCandidate[]; pulses: PulseCandidates } {
  const pulses = pulseCandidates(view.carriers);
  const trains = trainsOfChains(view, pulses, pulseChains(view.carriers, pulses));
  return { trains: withoutRepeats(joinSplits(view, withoutRepeats(trains))), pulses };
}

/** Candidates that a dancer's known carrier and beat bring out between two times. */
export function findGuidedTrains(view: SegmentView, pulses: PulseCandidates, guide: Guide): TrainCandidate[] {
  const trains = trainsOfChains(view, pulses, pulseChains(view.carriers, pulses, guide));
  return withoutRepeats(joinSplits(view, withoutRepeats(trains)));
}

function trainsOfChains(
  view: SegmentView,
  pulses: PulseCandidates,
  chains: readonly PulseChain[],
): TrainCandidate[] {
  const refined: TrainCandidate[] = [];
  for (const chain of chains) {
    const carrierHz = meanCarrier(pulses, chain.candidates);
    const pulseTimesS = chain.candidates.map((node) => pulses.peak[node]! * view.carriers.hopS);
    const train = refineTrain(view.samples, view.sampleRateHz, { pulseTimesS, carrierHz }, view.noisePowerAt);
    if (train !== null) refined.push({ ...train, chainScore: chain.score });
  }
  return refined;
}

/** No dancer returns faster than this: what stands nearer together, at one carrier and beat, is one run. */
const SHORTEST_RETURN_S = 0.4;

/**
 * Joins trains that a sound in the midst of a run has split: same carrier, same beat, too little time between
 * them for a return phase.
 */
function joinSplits(view: SegmentView, trains: readonly TrainCandidate[]): TrainCandidate[] {
  const joined: TrainCandidate[] = [];
  const left = [...trains];
  while (left.length > 0) {
    const train = left.shift()!;
    const next = left.findIndex((other) => splitOf(train, other));
    const whole = next < 0 ? null : joinTwo(view, train, left[next]!);
    if (whole === null) {
      joined.push(train);
    } else {
      left.splice(next, 1);
      left.unshift(whole);
    }
  }
  return joined;
}

function splitOf(a: TrainCandidate, b: TrainCandidate): boolean {
  const gapS = b.startS - a.endS;
  return (
    gapS > -0.02 &&
    gapS < SHORTEST_RETURN_S &&
    Math.abs(a.carrierHz - b.carrierHz) < 14 &&
    Math.abs(Math.log(a.beatS / b.beatS)) < 0.14 &&
    a.pulseTimesS.length + b.pulseTimesS.length >= 7
  );
}

function joinTwo(view: SegmentView, a: TrainCandidate, b: TrainCandidate): TrainCandidate | null {
  const rough = {
    pulseTimesS: [...a.pulseTimesS, ...b.pulseTimesS],
    carrierHz: (a.carrierHz + b.carrierHz) / 2,
    whole: true,
  };
  const train = refineTrain(view.samples, view.sampleRateHz, rough, view.noisePowerAt);
  return train === null ? null : { ...train, chainScore: a.chainScore + b.chainScore };
}

/** Two chains may grow into the same train; the one with more evidence stays. */
export function withoutRepeats(trains: readonly TrainCandidate[]): TrainCandidate[] {
  const byEvidence = [...trains].sort((a, b) => b.evidence - a.evidence || a.startS - b.startS);
  const kept: TrainCandidate[] = [];
  for (const train of byEvidence) {
    if (!kept.some((other) => sharedPulses(train, other) > 0.3 * train.pulseTimesS.length)) kept.push(train);
  }
  return kept.sort((a, b) => a.startS - b.startS || a.carrierHz - b.carrierHz);
}

function sharedPulses(a: TrainCandidate, b: TrainCandidate): number {
  if (a.endS < b.startS || b.endS < a.startS || Math.abs(a.carrierHz - b.carrierHz) > 40) return 0;
  let shared = 0;
  for (const time of a.pulseTimesS) {
    if (b.pulseTimesS.some((other) => Math.abs(other - time) < 0.01)) shared++;
  }
  return shared;
}

/** Mean carrier of a chain's pulses, Hz, weighted by their power up to a limit, so that none rules alone. */
function meanCarrier(candidates: PulseCandidates, chain: readonly number[]): number {
  let sum = 0;
  let weights = 0;
  for (const node of chain) {
    const weight = Math.min(20, candidates.ratio[node]!);
    sum += weight * candidates.hz[node]!;
    weights += weight;
  }
  return sum / weights;
}
