import { type HearAt, hearApart } from './apart-from-calls.ts';
import { findApart } from './apart-trains.ts';
import { type Alone, type Company, companyOf } from './company.ts';
import type { Tone } from './find-calls.ts';
import { findGuidedTrains, findTrains, type TrainCandidate } from './find-trains.ts';
import type { Guide } from './guided-runs.ts';
import { guidesOf, isSameGuide } from './guides.ts';
import { joinSplits } from './join-splits.ts';
import { companyConfidence, likelyCalls } from './judge.ts';
import { trainModel } from './judge-models.ts';
import { type LogisticModel, logisticProbability } from './logistic.ts';
import { type JudgedTrain, withoutMixtures, withoutOverlaps } from './rivals.ts';
import type { SegmentView } from './segment-view.ts';
import { splitByCarrier } from './split-by-carrier.ts';
import { trainFeatures } from './train-features.ts';
import { withoutCalls } from './without-calls.ts';

/** What the first guides bring out guides once more. */
const GUIDED_ROUNDS = 2;
/** Least probability, alone, of a train that is taken out to look for others under it. */
const CLEAR = 0.5;
/** Least probability of both sides for a split to be joined. */
const CREDIBLE = 0.35;

/** A candidate with what it is judged by in the second round. */
export interface WeighedTrain extends Alone {
  readonly company: Company;
}

/**
 * Finds and judges the trains of a segment: first what is clear by itself; then what the clear runs of a dance bring
 * out by their carrier and beat; then what these bring out under other dancers' runs. All are judged in the company
 * of the others. Of those that overlap at one carrier only the likeliest stays.
 *
 * @param tones of the segment, as `findTones` finds them
 */
export function judgeTrains(view: SegmentView, tones: readonly Tone[]): JudgedTrain[] {
  const judged = weighTrains(view, tones).map((one) => ({
    train: one.train,
    confidence: companyConfidence(one),
  }));
  return withoutOverlaps(withoutMixtures(judged), rankOf).sort(
    (a, b) => a.train.startS - b.train.startS || a.train.carrierHz - b.train.carrierHz,
  );
}

/**
 * All candidates, without what they have taken from calls or from other dancers, weighed alone by a model and by
 * their company.
 *
 * @param tones of the segment, as `findTones` finds them
 */
export function weighTrains(
  view: SegmentView,
  tones: readonly Tone[],
  model: LogisticModel = trainModel,
): WeighedTrain[] {
  const hear = hearApart(view, likelyCalls(tones));
  const weigh = (trains: readonly TrainCandidate[], hearAt = hear): Alone[] =>
    trains.flatMap((train) => {
      const heard = hearAt(train.carrierHz, train);
      return splitByCarrier(heard, withoutCalls(heard, train)).map((part) => ({
        train: part,
        alone: logisticProbability(model, trainFeatures(part, heard)),
      }));
    });
  const hearOf = (guide: Guide) => hear(guide.carrierHz, { startS: guide.fromS, endS: guide.toS });
  let known = weigh(findTrains(view));
  let searched: Guide[] = [];
  for (let round = 0; round < GUIDED_ROUNDS; round++) {
    const guides = guidesOf(known).filter((guide) => !searched.some((other) => isSameGuide(guide, other)));
    known = [...known, ...weigh(guides.flatMap((guide) => findGuidedTrains(hearOf(guide), guide)))];
    searched = guides;
  }
  const clear = likeliest(known.filter((one) => one.alone >= CLEAR)).map((one) => one.train);
  const apart = guidesOf(known).flatMap((guide) => {
    const found = findApart(hearOf(guide), guide, clear);
    return found === null ? [] : weigh(found.trains, () => found.rest);
  });
  const all = withJoined(hear, [...known, ...apart], weigh);
  const others = likeliest(all);
  const unguided = likeliest(all.filter((one) => !one.train.guided));
  return all.map((one) => ({ ...one, company: companyOf(one, { others, unguided, all }) }));
}

/** Doubt that counts no more: a part of a run is as surely dance sound as the whole. */
const LEAST_DOUBT = 0.03;
/** What is as likely as not never gives way to what is less so. */
const LIKELY = 0.5;
const BEFORE_ALL = 1e9;

/** Of candidates for one train the one with the greatest odds times evidence stays. */
const rankOf = ({ train, confidence }: JudgedTrain): number =>
  (confidence / (1 - confidence + LEAST_DOUBT)) * (1 + Math.max(0, train.evidence)) +
  (confidence >= LIKELY ? BEFORE_ALL : 0);

/** Of candidates for one train the likeliest by its own sound. */
const likeliest = (all: readonly Alone[]): Alone[] => withoutOverlaps(all, (one) => one.alone);

/** Joins what is credible on both sides of a split; the whole takes the place of its parts. */
function withJoined(
  hear: HearAt,
  all: readonly Alone[],
  weigh: (trains: readonly TrainCandidate[]) => Alone[],
): Alone[] {
  const credible = likeliest(all.filter((one) => one.alone >= CREDIBLE)).sort(
    (a, b) => a.train.startS - b.train.startS,
  );
  const parts = new Set(credible.map((one) => one.train));
  const joined = joinSplits(
    hear,
    credible.map((one) => one.train),
  ).filter((train) => !parts.has(train));
  const within = (train: TrainCandidate, whole: TrainCandidate) =>
    train.startS > whole.startS - 0.03 &&
    train.endS < whole.endS + 0.03 &&
    Math.abs(train.carrierHz - whole.carrierHz) < 25;
  return [...all.filter((one) => !joined.some((whole) => within(one.train, whole))), ...weigh(joined)];
}
