import type { TrainCandidate } from './find-trains.ts';
import { stepBetween } from './step-between.ts';

/** A candidate and the probability, 0 to 1, that it is a waggle run, by its own sound alone. */
export interface Alone {
  readonly train: TrainCandidate;
  readonly alone: number;
}

/** What the others say of a candidate: a dancer makes many runs, alike in carrier, beat, duration and level. */
export interface Company {
  /** How many likely runs of the same dancer stand near by. */
  readonly likely: number;
  /** The same counting only what stands out by itself: what was looked for because of others proves nothing. */
  readonly unguided: number;
  /** ln of the candidate's duration and pulse power over their means, drawn to 0 where company is little. */
  readonly durationMisfit: number;
  readonly levelMisfit: number;
  /** Time to the nearest likely run before and after, s; the reach where there is none. */
  readonly beforeS: number;
  readonly afterS: number;
  /** Probability, alone, of the likeliest other candidate at the same time. */
  readonly rival: number;
  /** ln of the pulse power over that of the strongest train that was taken out before it was found; 0 for others. */
  readonly levelApart: number;
  /** How much its pulses keep step with the pulses of a train taken out, 0 to 1; 0 for others. */
  readonly locked: number;
}

const LEAST_APART_S = 0.3;
const REACH_S = 7;
const CARRIER_SPREAD_HZ = 10;
const BEAT_SPREAD = 0.12;
/** Company at which its means count half. */
const HALF_COUNT = 0.5;
/** Least share in the company of a run that counts as the one before or after. */
const NEIGHBOUR = 0.25;
/** Share of the shorter that two candidates must have in common to be rivals. */
const RIVAL_OVERLAP = 0.3;

/**
 * The company of a candidate. Another counts by how probable it is and how like in carrier and beat.
 *
 * @param others candidates of which no two are for one train
 * @param unguided the same of the candidates that stand out by themselves
 * @param all every candidate
 */
export function companyOf(
  { train }: Alone,
  { others, unguided, all }: Record<'others' | 'unguided' | 'all', readonly Alone[]>,
): Company {
  let logDuration = 0;
  let logLevel = 0;
  let beforeS = REACH_S;
  let afterS = REACH_S;
  const near = nearOnes(train, others);
  for (const { other, weight, apartS } of near) {
    logDuration += weight * Math.log((train.endS - train.startS) / (other.endS - other.startS));
    logLevel += weight * Math.log(train.pulseRatio / other.pulseRatio);
    if (weight <= NEIGHBOUR) continue;
    if (other.startS < train.startS) beforeS = Math.min(beforeS, apartS);
    else afterS = Math.min(afterS, apartS);
  }
  const likely = sumOfWeights(near);
  return {
    likely,
    unguided: sumOfWeights(nearOnes(train, unguided)),
    durationMisfit: logDuration / (likely + HALF_COUNT),
    levelMisfit: logLevel / (likely + HALF_COUNT),
    beforeS,
    afterS,
    rival: rivalOf(train, all),
    ...apartness(train),
  };
}

/** What is left of a train that was taken out imperfectly is faint and keeps step with it. */
function apartness(train: TrainCandidate): { levelApart: number; locked: number } {
  const parts = train.apartFrom ?? [];
  if (parts.length === 0) return { levelApart: 0, locked: 0 };
  return {
    levelApart: Math.log(train.pulseRatio / Math.max(...parts.map((part) => part.pulseRatio))),
    locked: Math.max(...parts.map((part) => stepBetween(train, part).kept)),
  };
}

interface NearOne {
  readonly other: TrainCandidate;
  /** How likely it is a run, and the same dancer's. */
  readonly weight: number;
  readonly apartS: number;
}

function nearOnes(train: TrainCandidate, others: readonly Alone[]): NearOne[] {
  const near: NearOne[] = [];
  for (const { train: other, alone } of others) {
    const apartS = Math.max(other.startS - train.endS, train.startS - other.endS);
    if (apartS < LEAST_APART_S || apartS > REACH_S) continue;
    near.push({ other, weight: alone * likeness(train, other), apartS });
  }
  return near;
}

const sumOfWeights = (near: readonly NearOne[]): number => near.reduce((sum, { weight }) => sum + weight, 0);

function likeness(a: TrainCandidate, b: TrainCandidate): number {
  const carrier = (a.carrierHz - b.carrierHz) / CARRIER_SPREAD_HZ;
  const beat = Math.log(a.beatS / b.beatS) / BEAT_SPREAD;
  return Math.exp(-0.5 * (carrier * carrier + beat * beat));
}

function rivalOf(train: TrainCandidate, all: readonly Alone[]): number {
  let most = 0;
  for (const { train: other, alone } of all) {
    if (other === train || alone <= most || train.apartFrom?.includes(other)) continue;
    const sharedS = Math.min(train.endS, other.endS) - Math.max(train.startS, other.startS);
    const shorterS = Math.min(train.endS - train.startS, other.endS - other.startS);
    if (sharedS > RIVAL_OVERLAP * shorterS) most = alone;
  }
  return most;
}
