import type { Call } from './call-kinds.ts';
import type { Tone } from './find-calls.ts';
import type { TrainCandidate } from './find-trains.ts';
import { callModel, trainModel } from './judge-models.ts';
import { logisticProbability } from './logistic.ts';
import type { SegmentView } from './segment-view.ts';
import { trainFeatures } from './train-features.ts';

/** Probability, 0 to 1, that a candidate is a pulse train. */
export function trainConfidence(train: TrainCandidate, view: SegmentView): number {
  return logisticProbability(trainModel, trainFeatures(train, view));
}

/** Probability, 0 to 1, that a call was made by a bee as timed; the most probable of its tones counts. */
export function callConfidence(call: Call): number {
  return Math.max(...call.tones.map((tone) => logisticProbability(callModel, toneFeatures(tone))));
}

/** The names of what a tone is judged by, in the order of `toneFeatures`. */
export const TONE_FEATURES = [
  'ln power over floor',
  'unevenness',
  'ln beside share',
  'ln duration',
  'carrier from 350 Hz',
  'carrier from 350 Hz, squared',
  'rise',
] as const;

/** What tells a call from noise: one number for each of `TONE_FEATURES`, all of the order of 1. */
export function toneFeatures(tone: Tone): number[] {
  const away = (tone.carrierHz - 350) / 100;
  return [
    Math.log(Math.min(100, tone.ratio)),
    tone.unevenness,
    Math.log(Math.max(0.01, tone.besideShare)),
    Math.log((tone.endS - tone.startS) / 0.15),
    away,
    away * away,
    Math.abs(tone.riseHz) / 50,
  ];
}
