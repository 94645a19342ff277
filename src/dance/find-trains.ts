import { type PulseCandidates, pulseCandidates } from './pulse-candidates.ts';
import { pulseChains } from './pulse-chains.ts';
import type { SegmentView } from './segment-view.ts';
import { type RefinedTrain, refineTrain } from './train-refinement.ts';

/** A train before it is judged. */
export interface TrainCandidate extends RefinedTrain {
  /** Score of the chain it grew from. */
  readonly chainScore: number;
}

/** All trains of a segment, in order of start, those that share pulses with a stronger one left out. */
export function findTrains(view: SegmentView): TrainCandidate[] {
  const { carriers } = view;
  const candidates = pulseCandidates(carriers);
  const chains = pulseChains(carriers, candidates);
  const refined: TrainCandidate[] = [];
  for (const chain of chains) {
    const carrierHz = meanCarrier(candidates, chain.candidates);
    const pulseTimesS = chain.candidates.map((node) => candidates.peak[node]! * carriers.hopS);
    const train = refineTrain(view.samples, view.sampleRateHz, { pulseTimesS, carrierHz }, view.noisePowerAt);
    if (train !== null) refined.push({ ...train, chainScore: chain.score });
  }
  return withoutRepeats(refined);
}

/** Two chains may grow into the same train; the one with more evidence stays. */
function withoutRepeats(trains: TrainCandidate[]): TrainCandidate[] {
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
