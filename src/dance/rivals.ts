import { hasPulseAt, sharedPulses, type TrainCandidate } from './find-trains.ts';
import { stepBetween } from './step-between.ts';

/** A candidate and the probability, 0 to 1, that it is a waggle run timed right. */
export interface JudgedTrain {
  readonly train: TrainCandidate;
  readonly confidence: number;
}

/** Trains nearer in carrier, overlapping in time, are never two dancers'. */
export const LEAST_APART_HZ = 11;

/** Two dancers may sound at once; of candidates for one train only the likeliest stays. */
export function withoutOverlaps<T extends { train: TrainCandidate }>(
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
 * their beat is the same or their pulses are; or, one sound showing at two carriers, where most pulses are, where one
 * is the other's octave, or where they keep step from start to end. What was found when the other had been taken out is
 * another train, at its own carrier.
 */
function sameTrain(one: TrainCandidate, other: TrainCandidate): boolean {
  // Most stand far apart.
  if (sharedS(one, other) < 0) return false;
  const apartHz = Math.abs(one.carrierHz - other.carrierHz);
  const shared = sharedPulses(one, other) / one.pulseTimesS.length;
  if (isOctave(one, other) || keepStep(one, other)) return true;
  if (atOwnCarriers(one, other, apartHz, shared)) return false;
  if (shared > 0.6) return true;
  if (apartHz >= LEAST_APART_HZ && (foundWithout(one, other) || foundWithout(other, one))) return false;
  if (sharedS(one, other) <= 0.3 * shorterS(one, other) || apartHz >= 25) return false;
  const sameBeat = Math.abs(Math.log(one.beatS / other.beatS)) < 0.12;
  return apartHz < LEAST_APART_HZ || sameBeat || shared > 0.4;
}

/** From what distance in carrier, Hz, two may be told apart by their tuning, and from where on more easily. */
const TUNED_APART_HZ = 15;
const FAR_APART_HZ = 20;
/** Least tuning of both, near and far apart, and how much more where most pulses coincide. */
const LEAST_TUNED = 0.7;
const LEAST_TUNED_FAR = 0.5;
const MOST_COINCIDE = 0.8;
const MORE_TUNED = 0.2;

/**
 * Whether each of two is tuned to a carrier of its own: where one dancer's beat is fast most of another's pulses coincide
 * with hers by chance, but what shows of one sound at another carrier is tuned to the one it comes from.
 *
 * @param shared share of the pulses of `one` that coincide with pulses of the other
 */
function atOwnCarriers(one: TrainCandidate, other: TrainCandidate, apartHz: number, shared: number): boolean {
  if (apartHz < TUNED_APART_HZ) return false;
  const least = apartHz < FAR_APART_HZ ? LEAST_TUNED : LEAST_TUNED_FAR;
  return Math.min(one.tuning, other.tuning) >= least + (shared > MOST_COINCIDE ? MORE_TUNED : 0);
}

/** How long two sound together, s; less than nothing where they do not. */
export const sharedS = (a: TrainCandidate, b: TrainCandidate): number =>
  Math.min(a.endS, b.endS) - Math.max(a.startS, b.startS);

const shorterS = (a: TrainCandidate, b: TrainCandidate): number =>
  Math.min(a.endS - a.startS, b.endS - b.startS);

/** Whether one of two that sound together is at twice the other's carrier. */
function isOctave(one: TrainCandidate, other: TrainCandidate): boolean {
  const lowHz = Math.min(one.carrierHz, other.carrierHz);
  const highHz = Math.max(one.carrierHz, other.carrierHz);
  return Math.abs(highHz - 2 * lowHz) < 30 && sharedS(one, other) > 0.5 * shorterS(one, other);
}

/** Least distance in carrier, share of the time of both, and step kept, of one sound at two carriers. */
const ELSEWHERE_HZ = 60;
const LEAST_TOGETHER = 0.75;
const LEAST_STEP = 0.7;
/** A pulse shows elsewhere not much later than it sounds. */
const LARGEST_LAG_S = 0.015;

/**
 * Whether two sound together and keep step, far apart in carrier: pulses of two lobes, or that ring in the comb, show
 * at another carrier too, somewhat sooner or later; two dancers' beats are hardly so alike for a whole run.
 */
function keepStep(one: TrainCandidate, other: TrainCandidate): boolean {
  const bothS = Math.max(one.endS, other.endS) - Math.min(one.startS, other.startS);
  if (Math.abs(one.carrierHz - other.carrierHz) < ELSEWHERE_HZ) return false;
  if (sharedS(one, other) < LEAST_TOGETHER * bothS) return false;
  const { kept, turn } = stepBetween(one, other);
  return kept >= LEAST_STEP && Math.abs(turn) * other.beatS <= LARGEST_LAG_S;
}

/** Whether a candidate was found after the other, or another reading of it, had been taken out. */
function foundWithout(one: TrainCandidate, other: TrainCandidate): boolean {
  return (one.apartFrom ?? []).some(
    (part) => part === other || (Math.abs(part.carrierHz - other.carrierHz) < 8 && sharedS(part, other) > 0),
  );
}

/** Least confidence of two trains for a candidate that is made of both to be given up. */
const CREDIBLE_PART = 0.5;
/** Share of a candidate's pulses that one other may hold, and that two must hold between them. */
const MOST_OF_ONE = 0.85;
const LEAST_OF_BOTH = 0.8;
/** How much better tuned than a candidate the two must be that it is made of. */
const LEAST_BETTER_TUNED = 0.15;

/**
 * Gives up candidates that string two dancers' runs together: those whose pulses are nearly all pulses of two other
 * candidates, no twins, that are together likelier and each keep their carrier better. The least likely are tried
 * first, and what was given up is no part of others: two candidates may not give each other up.
 */
export function withoutMixtures(judged: readonly JudgedTrain[]): JudgedTrain[] {
  const left = new Set(judged);
  for (const whole of [...judged].sort((a, b) => a.confidence - b.confidence)) {
    if (isMixture(whole, left)) left.delete(whole);
  }
  return judged.filter((one) => left.has(one));
}

const logit = ({ confidence }: JudgedTrain): number => Math.log(confidence / (1 - confidence + 1e-9));

function isMixture(whole: JudgedTrain, others: ReadonlySet<JudgedTrain>): boolean {
  const count = whole.train.pulseTimesS.length;
  const parts = [...others]
    .filter(
      (one) =>
        one !== whole &&
        one.confidence >= CREDIBLE_PART &&
        Math.abs(one.train.carrierHz - whole.train.carrierHz) < 45,
    )
    .map((one) => ({ one, held: heldPulses(whole.train, one.train) }))
    .filter(({ held }) => held.size > 0 && held.size < MOST_OF_ONE * count);
  return parts.some((a) =>
    parts.some(
      (b) =>
        a !== b &&
        logit(a.one) + logit(b.one) > logit(whole) &&
        whole.train.tuning < Math.min(a.one.train.tuning, b.one.train.tuning) - LEAST_BETTER_TUNED &&
        new Set([...a.held, ...b.held]).size >= LEAST_OF_BOTH * count &&
        !sameTrain(a.one.train, b.one.train) &&
        !partsOfOne(a.one.train, b.one.train),
    ),
  );
}

/** No dancer returns faster than this: what stands nearer together, at one carrier and beat, is one run. */
export const SHORTEST_RETURN_S = 0.4;
/** Largest difference of ln beat within one run. */
export const SAME_RUN_LN_BEAT = 0.14;

/** Whether two are parts of one run: at one carrier and beat, with too little time between them for a return phase. */
function partsOfOne(a: TrainCandidate, b: TrainCandidate): boolean {
  return (
    sharedS(a, b) > -SHORTEST_RETURN_S &&
    Math.abs(a.carrierHz - b.carrierHz) < LEAST_APART_HZ &&
    Math.abs(Math.log(a.beatS / b.beatS)) < SAME_RUN_LN_BEAT
  );
}

/** Which pulses of a whole stand where a part has one. */
function heldPulses(whole: TrainCandidate, part: TrainCandidate): Set<number> {
  const held = new Set<number>();
  if (part.endS < whole.startS || part.startS > whole.endS) return held;
  whole.pulseTimesS.forEach((timeS, k) => {
    if (hasPulseAt(part, timeS)) held.add(k);
  });
  return held;
}
