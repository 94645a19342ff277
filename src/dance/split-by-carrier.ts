import { meanOf } from '../signal/quantile.ts';
import { type Observation, stepsOf } from '../signal/steps.ts';
import { carrierSound, keptSoundRoom } from './carrier-envelope.ts';
import { type TrainCandidate, trainCandidate } from './find-trains.ts';
import { hiddenTimeS } from './hidden-time.ts';
import { MATCHED_WINDOW_S, oddLength } from './matched-view.ts';
import type { SegmentView } from './segment-view.ts';
import { refineTrain } from './train-refinement.ts';
import { skewAt, skewVariance, TUNING_HZ, tunedWindowOf } from './tuning.ts';

const LEAST_PULSES = 3;
/** Chi-square from which on the carrier has stepped. */
const LEAST_CHI_SQUARE = 12;

const soundRoom = keptSoundRoom();

/**
 * A candidate, or its parts where its carrier steps: there two dancers' runs that follow one another, alike in beat,
 * were strung together. Each part is refined at its own carrier; pulses that were taken out under a call are not
 * looked for again.
 */
export function splitByCarrier(view: SegmentView, train: TrainCandidate): TrainCandidate[] {
  const cuts = stepsOf(asTheyScatter(skewsOf(view, train)), LEAST_PULSES, LEAST_CHI_SQUARE, true);
  const parts = partsAt(view, train, cuts);
  const steps = cuts.filter((_, k) => isStep(parts[k]!, parts[k + 1]!));
  const kept = steps.length === cuts.length ? parts : partsAt(view, train, steps);
  return kept.filter((part) => part !== null);
}

/** A dancer's own carrier may wander so far within a long run, Hz: two dancers' are further apart. */
const LARGEST_DRIFT_HZ = 8;

const isStep = (before: TrainCandidate | null, after: TrainCandidate | null): boolean =>
  before === null || after === null || Math.abs(before.carrierHz - after.carrierHz) > LARGEST_DRIFT_HZ;

/** A candidate's parts between cuts, each refined at its own carrier; null where no train is left of one. */
function partsAt(
  view: SegmentView,
  train: TrainCandidate,
  cuts: readonly number[],
): (TrainCandidate | null)[] {
  if (cuts.length === 0) return [train];
  const { pulseTimesS, carrierHz, chainScore } = train;
  const settled = hiddenTimeS(view, train) > 0;
  const edges = [0, ...cuts, pulseTimesS.length];
  return edges.slice(1).map((to, k) => {
    const pulses = pulseTimesS.slice(edges[k], to);
    const part = refineTrain(view, { pulseTimesS: pulses, carrierHz, whole: true, settled });
    const share = pulses.length / pulseTimesS.length;
    return part === null ? null : trainCandidate(part, { ...train, chainScore: share * chainScore });
  });
}

/** So many pulses tell how much theirs scatter; and how much less than is expected they may, in variance. */
const LEAST_SCATTER = 10;
const LARGEST_GAIN = 2.5;

/**
 * Observations with the weight that they deserve by what they differ from one to the next (which no step does), where
 * that is less than was expected: where dancers leave little silence the floor rises with them, and their pulses are
 * surer than their power over it tells. Source: successive differences, von Neumann 1941, Ann Math Stat 12:367 (from
 * memory).
 */
function asTheyScatter(skews: readonly Observation[]): Observation[] {
  if (skews.length < LEAST_SCATTER) return [...skews];
  const squares = skews.slice(1).map((next, k) => {
    const before = skews[k]!;
    return (next.values[0]! - before.values[0]!) ** 2 / (1 / next.weight + 1 / before.weight);
  });
  const gain = Math.min(LARGEST_GAIN, Math.max(1, 1 / meanOf(squares)));
  return skews.map(({ values, weight }) => ({ values, weight: gain * weight }));
}

/** ln(power 20 Hz above / below the train's carrier) of each pulse. */
function skewsOf(view: SegmentView, { pulseTimesS, pulseRatios, carrierHz }: TrainCandidate): Observation[] {
  const { samples, sampleRateHz } = view;
  const sampleOf = (timeS: number) => Math.round(timeS * sampleRateHz);
  const length = oddLength(MATCHED_WINDOW_S, sampleRateHz);
  const first = sampleOf(pulseTimesS[0]!);
  const count = sampleOf(pulseTimesS.at(-1)!) - first + 1;
  const sound = carrierSound(samples, sampleRateHz, carrierHz, first, count, length, soundRoom);
  const window = tunedWindowOf(length, sampleRateHz);
  return pulseTimesS.map((timeS, k) => {
    const noise = {
      above: view.noisePowerAt(timeS, carrierHz + TUNING_HZ),
      below: view.noisePowerAt(timeS, carrierHz - TUNING_HZ),
    };
    return {
      values: [skewAt(sound, sampleOf(timeS) - first, window, noise)],
      weight: 1 / skewVariance(pulseRatios[k]!),
    };
  });
}
