import { medianOf } from '../signal/quantile.ts';
import { type TrainCandidate, trainCandidate } from './find-trains.ts';
import { isWithin } from './hidden-time.ts';
import type { Pulse } from './matched-view.ts';
import type { SegmentView, Span } from './segment-view.ts';
import { refineTrain } from './train-refinement.ts';

const LEAST_PULSES = 3;
/** Share of the median power below which a pulse is faint. */
const LONE_SHARE = 0.3;
/** The same of what goes on from an end where a call was taken out; of a pulse near it in carrier a part went too. */
const FAINT_SHARE = 0.5;
const NEAR_FAINT_SHARE = 0.27;
const NEAR_HZ = 65;
/**
 * An onset is heard at many frequencies, a pulse at its own: at an onset one counts that has so much of the median power,
 * and no more than so much of its own power beside it.
 */
const CLEAR_SHARE = 0.6;
const LARGEST_BESIDE = 0.3;

/**
 * A train without the pulses that it has taken from a call against its ends or amid it: an unbroken tone holds no
 * pulses. A train that is nearly all within calls is left to the judge.
 */
export function withoutCalls(view: SegmentView, train: TrainCandidate): TrainCandidate {
  const { covered, takenOut } = view;
  const heard = train.pulseTimesS.map((timeS, k) => ({ timeS, ratio: train.pulseRatios[k]! }));
  const onsets = takenOut.map(({ onset }) => onset);
  const near = covered.filter((span) => !onsets.includes(span));
  const isHidden = ({ timeS, ratio }: Pulse, k: number) =>
    isWithin(near, timeS) ||
    (isWithin(onsets, timeS) &&
      !(ratio >= CLEAR_SHARE * train.pulseRatio && train.pulseBesides[k]! <= LARGEST_BESIDE));
  const faintShareAt = (timeS: number) => {
    const call = takenOut.find(({ span }) => isWithin([span], timeS));
    if (call === undefined) return null;
    return Math.abs(call.carrierHz - train.carrierHz) < NEAR_HZ ? NEAR_FAINT_SHARE : FAINT_SHARE;
  };
  const pulseTimesS = withoutLoneEnds(
    withoutFaintEnds(
      heard.filter((pulse, k) => !isHidden(pulse, k)),
      faintShareAt,
    ),
    train.beatS,
    covered,
  ).map(({ timeS }) => timeS);
  if (pulseTimesS.length === train.pulseTimesS.length || pulseTimesS.length < LEAST_PULSES) return train;
  const rough = { pulseTimesS, carrierHz: train.carrierHz, settled: true, beatS: train.beatS };
  const rest = refineTrain(view, rough);
  if (rest === null) return train;
  return trainCandidate(rest, train);
}

/**
 * What is left of a call that was taken out may be taken for pulses that go on from a train's end: these are fainter
 * than its others.
 *
 * @param faintShareAt share of the usual power below which what sounds at a time is faint; null where no call was
 */
function withoutFaintEnds(
  pulses: readonly Pulse[],
  faintShareAt: (timeS: number) => number | null,
): readonly Pulse[] {
  const isClear = ({ timeS }: Pulse) => faintShareAt(timeS) === null;
  const first = pulses.findIndex(isClear);
  const last = pulses.findLastIndex(isClear);
  if (first < 0) return pulses;
  const usual = medianOf(pulses.slice(first, last + 1).map(({ ratio }) => ratio));
  const isFaint = (ends: readonly Pulse[]) =>
    ends.length > 0 && medianOf(ends.map(({ timeS, ratio }) => ratio / faintShareAt(timeS)!)) < usual;
  return pulses.slice(
    isFaint(pulses.slice(0, first)) ? first : 0,
    isFaint(pulses.slice(last + 1)) ? last + 1 : undefined,
  );
}

/** A single faint pulse beyond a call that hides the next ones is too little to say that the train goes on there. */
function withoutLoneEnds(
  pulses: readonly Pulse[],
  beatS: number,
  covered: readonly Span[],
): readonly Pulse[] {
  const faint = LONE_SHARE * medianOf(pulses.map(({ ratio }) => ratio));
  const isLone = (end: Pulse, next: Pulse) => {
    const [aS, bS] = end.timeS < next.timeS ? [end.timeS, next.timeS] : [next.timeS, end.timeS];
    return (
      end.ratio < faint && bS - aS > 1.5 * beatS && covered.some(([fromS, toS]) => fromS < bS && toS > aS)
    );
  };
  if (pulses.length <= LEAST_PULSES) return pulses;
  return pulses.slice(
    isLone(pulses[0]!, pulses[1]!) ? 1 : 0,
    isLone(pulses.at(-1)!, pulses.at(-2)!) ? -1 : undefined,
  );
}
