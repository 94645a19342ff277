import type { HearAt } from './apart-from-calls.ts';
import type { TrainCandidate } from './find-trains.ts';
import { refineTrain } from './train-refinement.ts';

/** No dancer returns faster than this: what stands nearer together, at one carrier and beat, is one run. */
const SHORTEST_RETURN_S = 0.4;

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
    gapS > -0.02 &&
    gapS < SHORTEST_RETURN_S &&
    Math.abs(a.carrierHz - b.carrierHz) < 14 &&
    Math.abs(Math.log(a.beatS / b.beatS)) < 0.14 &&
    a.pulseTimesS.length + b.pulseTimesS.length >= 7
  );
}

function joinTwo(hear: HearAt, a: TrainCandidate, b: TrainCandidate): TrainCandidate | null {
  const rough = {
    pulseTimesS: [...a.pulseTimesS, ...b.pulseTimesS],
    carrierHz: (a.carrierHz + b.carrierHz) / 2,
    whole: true,
  };
  const train = refineTrain(hear(rough.carrierHz), rough);
  return train === null
    ? null
    : {
        ...train,
        chainScore: a.chainScore + b.chainScore,
        guided: a.guided && b.guided,
        ...hiddenOf(a, b),
      };
}

/** What hid the parts hid the whole. */
function hiddenOf(a: TrainCandidate, b: TrainCandidate): Pick<TrainCandidate, 'coveredS' | 'apartFrom'> {
  const coveredS = (a.coveredS ?? 0) + (b.coveredS ?? 0);
  const apartFrom = [...new Set([...(a.apartFrom ?? []), ...(b.apartFrom ?? [])])];
  return {
    ...(coveredS > 0 ? { coveredS } : {}),
    ...(apartFrom.length > 0 ? { apartFrom } : {}),
  };
}
