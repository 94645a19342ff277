import { medianOf } from '../signal/quantile.ts';
import { type Alone, type Company, companyOf } from './company.ts';
import type { Tone } from './find-calls.ts';
import { findGuidedTrains, findTrains, sharedPulses, type TrainCandidate } from './find-trains.ts';
import { gatherDances } from './gather-dances.ts';
import type { Guide } from './guided-runs.ts';
import { joinSplits } from './join-splits.ts';
import { companyConfidence, likelyCalls } from './judge.ts';
import { trainModel } from './judge-models.ts';
import { type LogisticModel, logisticProbability } from './logistic.ts';
import type { SegmentView } from './segment-view.ts';
import { trainFeatures } from './train-features.ts';
import { withoutCalls } from './without-calls.ts';

/** A candidate and the probability, 0 to 1, that it is a waggle run timed right. */
export interface JudgedTrain {
  readonly train: TrainCandidate;
  readonly confidence: number;
}

/** How far around a dance's known runs its other runs are looked for, s. */
const GUIDE_REACH_S = 6;
/** Least probability, alone, of a run that guides, and least number of a dance's runs that do. */
const LEAST_GUIDING = 0.15;
const LEAST_GUIDES = 2;
/** What the first guides bring out guides once more. */
const GUIDED_ROUNDS = 2;
/** Least probability of both sides for a split to be joined. */
const CREDIBLE = 0.35;

/** A candidate with what it is judged by in the second round. */
export interface WeighedTrain extends Alone {
  readonly company: Company;
}

/**
 * Finds and judges the trains of a segment in two rounds: what is clear by itself; then what the clear runs of
 * a dance bring out by their carrier and beat. All are judged in the company of the others. Of those that
 * overlap at one carrier only the likeliest stays.
 *
 * @param tones of the segment, as `findTones` finds them
 */
export function judgeTrains(view: SegmentView, tones: readonly Tone[]): JudgedTrain[] {
  const judged = weighTrains(view, tones).map((one) => ({
    train: one.train,
    confidence: companyConfidence(one),
  }));
  return withoutOverlaps(withoutMixtures(judged), (one) => one.confidence).sort(
    (a, b) => a.train.startS - b.train.startS || a.train.carrierHz - b.train.carrierHz,
  );
}

/**
 * All candidates of both rounds, without what they have taken from calls, weighed alone by a model and by their
 * company.
 *
 * @param tones of the segment, as `findTones` finds them
 */
export function weighTrains(
  view: SegmentView,
  tones: readonly Tone[],
  model: LogisticModel = trainModel,
): WeighedTrain[] {
  const calls = likelyCalls(tones);
  const weigh = (trains: readonly TrainCandidate[]): Alone[] =>
    trains
      .map((train) => withoutCalls(view, train, calls))
      .map((train) => ({ train, alone: logisticProbability(model, trainFeatures(train, view)) }));
  let known = weigh(findTrains(view));
  let searched: Guide[] = [];
  for (let round = 0; round < GUIDED_ROUNDS; round++) {
    const guides = guidesOf(known).filter((guide) => !searched.some((other) => isSameGuide(guide, other)));
    known = [...known, ...weigh(guides.flatMap((guide) => findGuidedTrains(view, guide, calls)))];
    searched = guides;
  }
  const all = withJoined(view, known, weigh);
  const others = withoutOverlaps(all, (one) => one.alone);
  const unguided = withoutOverlaps(
    all.filter((one) => !one.train.guided),
    (one) => one.alone,
  );
  return all.map((one) => ({ ...one, company: companyOf(one, { others, unguided, all }) }));
}

/** Joins what is credible on both sides of a split; the whole takes the place of its parts. */
function withJoined(
  view: SegmentView,
  all: readonly Alone[],
  weigh: (trains: readonly TrainCandidate[]) => Alone[],
): Alone[] {
  const credible = withoutOverlaps(
    all.filter((one) => one.alone >= CREDIBLE),
    (one) => one.alone,
  ).sort((a, b) => a.train.startS - b.train.startS);
  const parts = new Set(credible.map((one) => one.train));
  const joined = joinSplits(
    view,
    credible.map((one) => one.train),
  ).filter((train) => !parts.has(train));
  const within = (train: TrainCandidate, whole: TrainCandidate) =>
    train.startS > whole.startS - 0.03 &&
    train.endS < whole.endS + 0.03 &&
    Math.abs(train.carrierHz - whole.carrierHz) < 25;
  return [...all.filter((one) => !joined.some((whole) => within(one.train, whole))), ...weigh(joined)];
}

/** What each dance's likely runs tell of where its others are: medians over these, and the time around them. */
function guidesOf(known: readonly Alone[]): Guide[] {
  const likely = withoutOverlaps(
    known.filter((one) => one.alone >= LEAST_GUIDING),
    (one) => one.alone,
  )
    .map((one) => one.train)
    .sort((a, b) => a.startS - b.startS);
  const danceOf = gatherDances(likely);
  const dances = new Map<number, TrainCandidate[]>();
  likely.forEach((train, k) => {
    const members = dances.get(danceOf[k]!);
    if (members) members.push(train);
    else dances.set(danceOf[k]!, [train]);
  });
  return [...dances.values()]
    .filter((members) => members.length >= LEAST_GUIDES)
    .map((members) => ({
      carrierHz: medianOf(members.map((train) => train.carrierHz)),
      beatS: medianOf(members.map((train) => train.beatS)),
      strength: medianOf(members.map((train) => train.pulseRatio)),
      fromS: members[0]!.startS - GUIDE_REACH_S,
      toS: members.at(-1)!.endS + GUIDE_REACH_S,
    }));
}

/** Whether a guide would bring out what another has brought out already. */
function isSameGuide(a: Guide, b: Guide): boolean {
  return (
    Math.abs(a.carrierHz - b.carrierHz) < 1 &&
    Math.abs(Math.log(a.beatS / b.beatS)) < 0.01 &&
    Math.abs(Math.log(a.strength / b.strength)) < 0.1 &&
    Math.abs(a.fromS - b.fromS) < 0.5 &&
    Math.abs(a.toS - b.toS) < 0.5
  );
}

/** Two dancers may sound at once; of candidates for one train only the likeliest stays. */
function withoutOverlaps<T extends { train: TrainCandidate }>(
  all: readonly T[],
  rank: (one: T) => number,
): T[] {
  const kept: T[] = [];
  const order = [...all].sort((a, b) => rank(b) - rank(a) || a.train.startS - b.train.startS);
  for (const one of order) if (!kept.some((other) => sameTrain(one.train, other.train))) kept.push(one);
  return kept;
}

/**
 * Whether two overlapping candidates are taken for one train: at one carrier; at nearly one carrier where also
 * their beat is the same or their pulses are; or, one sound showing at two carriers, where most pulses are.
 */
function sameTrain(one: TrainCandidate, other: TrainCandidate): boolean {
  const apartHz = Math.abs(one.carrierHz - other.carrierHz);
  const shared = sharedPulses(one, other) / one.pulseTimesS.length;
  if (shared > 0.6) return true;
  const sharedS = Math.min(one.endS, other.endS) - Math.max(one.startS, other.startS);
  const shorterS = Math.min(one.endS - one.startS, other.endS - other.startS);
  if (sharedS <= 0.3 * shorterS || apartHz >= 25) return false;
  const sameBeat = Math.abs(Math.log(one.beatS / other.beatS)) < 0.12;
  return apartHz < 11 || sameBeat || shared > 0.4;
}

/** Least confidence of two trains for a candidate that is made of both to be given up. */
const CREDIBLE_PART = 0.5;
/** Share of a candidate's pulses that one other may hold, and that two must hold between them. */
const MOST_OF_ONE = 0.85;
const LEAST_OF_BOTH = 0.8;

/**
 * Gives up candidates that string two dancers' runs together: those whose pulses are nearly all pulses of two other
 * candidates, no twins, that are together likelier.
 */
function withoutMixtures(judged: readonly JudgedTrain[]): JudgedTrain[] {
  const logit = ({ confidence }: JudgedTrain) => Math.log(confidence / (1 - confidence + 1e-9));
  const credible = judged.filter((one) => one.confidence >= CREDIBLE_PART);
  return judged.filter((whole) => {
    const count = whole.train.pulseTimesS.length;
    const parts = credible
      .filter((one) => one !== whole && Math.abs(one.train.carrierHz - whole.train.carrierHz) < 45)
      .map((one) => ({ one, held: heldPulses(whole.train, one.train) }))
      .filter(({ held }) => held.size > 0 && held.size < MOST_OF_ONE * count);
    return !parts.some((a) =>
      parts.some(
        (b) =>
          a !== b &&
          logit(a.one) + logit(b.one) > logit(whole) &&
          new Set([...a.held, ...b.held]).size >= LEAST_OF_BOTH * count &&
          !sameTrain(a.one.train, b.one.train),
      ),
    );
  });
}

/** Which pulses of a whole stand where a part has one. */
function heldPulses(whole: TrainCandidate, part: TrainCandidate): Set<number> {
  const held = new Set<number>();
  if (part.endS < whole.startS || part.startS > whole.endS) return held;
  whole.pulseTimesS.forEach((timeS, k) => {
    if (part.pulseTimesS.some((other) => Math.abs(other - timeS) < 0.008)) held.add(k);
  });
  return held;
}
