import type { HearAt } from './apart-from-calls.ts';
import { hasPulseAt, type TrainCandidate, trainCandidate } from './find-trains.ts';
import { SAME_RUN_LN_BEAT, SHORTEST_RETURN_S } from './rivals.ts';
import { refineTrain } from './train-refinement.ts';

/** Behind a call that was taken out both parts may have the same few pulses; */
const LONGEST_SHARED_S = 0.1;
/** where they sound together for longer, so many of the pulses there must be the same. */
const LEAST_SAME = 0.6;
/**
 * How far apart in carrier two parts of one run may be measured, Hz: two and a half SD of their difference, for a pulse
 * tells its carrier within 13 Hz or so, and never more than this.
 */
const LARGEST_APART_HZ = 14;
const PULSE_APART_HZ = 33;

/**
 * Joins trains that a sound in the midst of a run has split: same carrier, same beat, too little time between
 * them for a return phase.
 */
export function joinSplits(hear: HearAt, trains: readonly TrainCandidate[]): TrainCandidate[] {
  const joined: TrainCandidate[] = [];
  const left = [...trains];
  while (left.length > 0) {
    const train = left.shift()!;
    const next = left.findIndex((other) => splitOf(train, other));
    const whole = next < 0 ? null : joinTwo(hear, train, left[next]!);
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
    b.endS > a.endS &&
    gapS < SHORTEST_RETURN_S &&
    Math.abs(a.carrierHz - b.carrierHz) < largestApartHz(a, b) &&
    Math.abs(Math.log(a.beatS / b.beatS)) < SAME_RUN_LN_BEAT &&
    a.pulseTimesS.length + b.pulseTimesS.length >= 7 &&
    (gapS > -LONGEST_SHARED_S || samePulsesWhereBoth(a, b))
  );
}

/** Whether two that overlap have the same pulses there. */
function samePulsesWhereBoth(a: TrainCandidate, b: TrainCandidate): boolean {
  const there = a.pulseTimesS.filter((timeS) => timeS > b.startS);
  return there.filter((timeS) => hasPulseAt(b, timeS)).length >= LEAST_SAME * there.length;
}

const largestApartHz = (a: TrainCandidate, b: TrainCandidate): number =>
  Math.min(LARGEST_APART_HZ, PULSE_APART_HZ * Math.sqrt(1 / a.pulseTimesS.length + 1 / b.pulseTimesS.length));

function joinTwo(hear: HearAt, a: TrainCandidate, b: TrainCandidate): TrainCandidate | null {
  const rough = {
    pulseTimesS: [...a.pulseTimesS, ...b.pulseTimesS.filter((timeS) => timeS > a.endS)],
    carrierHz: (a.carrierHz + b.carrierHz) / 2,
    whole: true,
  };
  const train = refineTrain(hear(rough.carrierHz, { startS: a.startS, endS: b.endS }), rough);
  // What is worth less than a part of it holds something of another's.
  if (train === null || train.evidence < Math.max(a.evidence, b.evidence)) return null;
  return trainCandidate(train, {
    chainScore: a.chainScore + b.chainScore,
    guided: a.guided && b.guided,
    ...apartOf(a, b),
  });
}

/** What was taken out before a part was found was taken out before the whole was. */
function apartOf(a: TrainCandidate, b: TrainCandidate): Pick<TrainCandidate, 'apartFrom'> {
  const apartFrom = [...new Set([...(a.apartFrom ?? []), ...(b.apartFrom ?? [])])];
  return apartFrom.length > 0 ? { apartFrom } : {};
}
