import { deviationOf, meanOf } from '../signal/quantile.ts';
import type { TrainCandidate } from './find-trains.ts';
import { hiddenTimeS, isWithin } from './hidden-time.ts';
import type { SegmentView } from './segment-view.ts';
import { soundFeatures } from './sound-features.ts';

/** The names of what a train is judged by, in the order of `trainFeatures`. */
export const TRAIN_FEATURES = [
  'ln pulse count',
  'chain score',
  'evidence per pulse',
  'ln pulse ratio',
  'ln gap share',
  'beat irregularity',
  'level irregularity',
  'share of beats heard',
  'ln outside share',
  'ln beside share',
  'ln beat',
  'carrier from 265 Hz, squared',
  'tuning',
  'spectral flatness',
  'spectral crest',
  'spectral centroid from carrier',
] as const;

/**
 * What tells a pulse train from other sound: how many pulses, how strong, how even in beat and level, how
 * silent between them, how silent before and after, how narrow, and where.
 *
 * @returns one number for each of `TRAIN_FEATURES`, all of the order of 1
 */
export function trainFeatures(train: TrainCandidate, view: SegmentView): number[] {
  const { pulseTimesS, pulseRatios, beatS, pulseRatio } = train;
  const beats = pulseTimesS.slice(1).map((time, k) => time - pulseTimesS[k]!);
  const logBeats = beats.map((beat) => Math.log(beat / (Math.max(1, Math.round(beat / beatS)) * beatS)));
  const spanBeats = Math.max(1, Math.round((pulseTimesS.at(-1)! - pulseTimesS[0]!) / beatS));
  const sound = soundFeatures(view.samples, view.sampleRateHz, (train.startS + train.endS) / 2);
  const ln = (value: number) => Math.log(Math.max(0.01, value));
  return [
    lnPulseCount(train),
    Math.sqrt(Math.max(0, train.chainScore)) / 3,
    Math.min(10, train.evidence / pulseTimesS.length) / 3,
    ln(Math.min(60, pulseRatio)),
    ln(Math.min(2, train.gapShare)),
    10 * deviationOf(logBeats),
    deviationOf(pulseRatios.map((ratio) => Math.log(ratio + 0.1))),
    Math.min(1, beats.length / Math.max(1, spanBeats - Math.round(hiddenTimeS(view, train) / beatS))),
    ln(Math.min(2, outsidePower(train, view) / pulseRatio)),
    ln(Math.min(2, besidePower(train, view) / pulseRatio)),
    Math.log(beatS / 0.045),
    ((train.carrierHz - 265) / 50) ** 2,
    train.tuning,
    10 * sound.flatness,
    Math.log(sound.crest),
    (sound.centroidHz - train.carrierHz) / 100,
  ];
}

/** The models have learnt from runs of hardly more pulses: a longer one is judged as one of so many. */
const MOST_PULSES = 60;

/** ln of a train's number of pulses, as it is judged by. */
export const lnPulseCount = ({ pulseTimesS }: TrainCandidate): number =>
  Math.log(Math.min(MOST_PULSES, pulseTimesS.length));

/** Mean power over the floor, at the train's carrier, in the third of a second before and after it. */
function outsidePower(train: TrainCandidate, view: SegmentView): number {
  const values = [
    ...columnValues(view, train.carrierHz, train.startS - 0.35, train.startS - 0.04),
    ...columnValues(view, train.carrierHz, train.endS + 0.04, train.endS + 0.35),
  ];
  return values.length === 0 ? 1 : meanOf(values);
}

/** Mean power over the floor 80 Hz either side of the carrier while the pulses sound. */
function besidePower(train: TrainCandidate, view: SegmentView): number {
  const values = train.pulseTimesS.flatMap((time) => [
    ...columnValues(view, train.carrierHz - 80, time, time),
    ...columnValues(view, train.carrierHz + 80, time, time),
  ]);
  return values.length === 0 ? 1 : meanOf(values);
}

function columnValues(view: SegmentView, carrierHz: number, fromS: number, toS: number): number[] {
  const { ratio, frameCount, carrierCount, firstCarrierHz, carrierStepHz, hopS } = view.carriers;
  const carrier = Math.round((carrierHz - firstCarrierHz) / carrierStepHz);
  if (carrier < 0 || carrier >= carrierCount) return [];
  const hidden = [...view.covered, ...view.takenOut.map(({ span }) => span)].filter(
    ([aS, bS]) => aS <= toS && bS >= fromS,
  );
  const values: number[] = [];
  const last = Math.min(frameCount - 1, Math.round(toS / hopS));
  for (let frame = Math.max(0, Math.round(fromS / hopS)); frame <= last; frame++) {
    if (!isWithin(hidden, frame * hopS)) values.push(ratio[frame * carrierCount + carrier]!);
  }
  return values;
}
