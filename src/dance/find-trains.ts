import { type Guide, guidedRuns } from './guided-runs.ts';
import { candidatesFor, type PulseCandidates, pulseCandidates } from './pulse-candidates.ts';
import { type PulseChain, pulseChains } from './pulse-chains.ts';
import type { SegmentView } from './segment-view.ts';
import { type RefinedTrain, refineTrain } from './train-refinement.ts';

/** How a train was found. */
interface Finding {
  /** Score of the chain it grew from. */
  readonly chainScore: number;
  /** Whether it was looked for by what is known of a dancer, and does not stand out by itself. */
  readonly guided: boolean;
  /** Trains of other dancers that overlap it and were taken out of the sound before it was found. */
  readonly apartFrom?: readonly TrainCandidate[] | undefined;
}

/** A train before it is judged. */
export interface TrainCandidate extends RefinedTrain, Finding {}

/** Made here alone, each with all its properties in one order: the engine is slow with objects of many shapes. */
export function trainCandidate(train: RefinedTrain, found: Finding): TrainCandidate {
  return {
    carrierHz: train.carrierHz,
    beatS: train.beatS,
    pulseTimesS: train.pulseTimesS,
    pulseRatios: train.pulseRatios,
    pulseBesides: train.pulseBesides,
    pulseRatio: train.pulseRatio,
    evidence: train.evidence,
    tuning: train.tuning,
    gapShare: train.gapShare,
    startS: train.startS,
    endS: train.endS,
    chainScore: found.chainScore,
    guided: found.guided,
    apartFrom: found.apartFrom,
  };
}

/** Pulses nearer than this are one. */
const SAME_PULSE_S = 0.008;

let kept = candidatesFor(0);

/** The candidates for trains that stand out in a segment by themselves, in order of start. */
export function findTrains(view: SegmentView): TrainCandidate[] {
  const pulses = pulseCandidates(view.carriers, kept);
  kept = pulses;
  return withoutRepeats(trainsOfChains(view, pulses, pulseChains(view.carriers, pulses)));
}

/** Candidates that a dancer's known carrier, beat and strength bring out between two times. */
export function findGuidedTrains(view: SegmentView, guide: Guide): TrainCandidate[] {
  return guidedRuns(view, guide).flatMap(({ pulseTimesS, score }) => {
    const rough = { pulseTimesS, carrierHz: guide.carrierHz, whole: true, beatS: guide.beatS };
    const train = refineTrain(view, rough);
    return train === null ? [] : [trainCandidate(train, { chainScore: score, guided: true })];
  });
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
    const train = refineTrain(view, { pulseTimesS, carrierHz });
    if (train !== null) refined.push(trainCandidate(train, { chainScore: chain.score, guided: false }));
  }
  return refined;
}

/** Two chains may grow into the same train, or one sound show at two carriers; the one with more evidence stays. */
function withoutRepeats(trains: readonly TrainCandidate[]): TrainCandidate[] {
  const byEvidence = [...trains].sort((a, b) => b.evidence - a.evidence || a.startS - b.startS);
  const kept: TrainCandidate[] = [];
  for (const train of byEvidence) {
    if (!kept.some((other) => sharedPulses(train, other) > 0.6 * train.pulseTimesS.length)) kept.push(train);
  }
  return kept.sort((a, b) => a.startS - b.startS || a.carrierHz - b.carrierHz);
}

/**
 * How many pulses of `a` stand at the time of one of `b`, where the carriers are near enough for one sound to
 * show in both.
 */
export function sharedPulses(a: RefinedTrain, b: RefinedTrain): number {
  if (a.endS < b.startS || b.endS < a.startS || Math.abs(a.carrierHz - b.carrierHz) > 110) return 0;
  let shared = 0;
  for (const timeS of a.pulseTimesS) if (hasPulseAt(b, timeS)) shared++;
  return shared;
}

/** Whether a train has a pulse at about a time. */
export function hasPulseAt({ pulseTimesS }: RefinedTrain, timeS: number): boolean {
  for (const otherS of pulseTimesS) if (Math.abs(otherS - timeS) < SAME_PULSE_S) return true;
  return false;
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
