import type { Call } from './call-kinds.ts';
import type { Tone } from './find-calls.ts';
import type { TrainCandidate } from './find-trains.ts';
import { callModel, companyModel } from './judge-models.ts';
import { logisticProbability } from './logistic.ts';

/** The names of what a train is judged by in the second round, in the order of `companyFeatures`. */
export const COMPANY_FEATURES = ['logit alone', 'ln company', 'ln pulse count', 'both'] as const;

/** One number for each of `COMPANY_FEATURES`. */
export function companyFeatures(alone: number, train: TrainCandidate, company: number): number[] {
  const logit = Math.log(Math.max(1e-6, alone) / Math.max(1e-6, 1 - alone));
  const lnCompany = Math.log(0.03 + Math.min(3, company));
  return [logit, lnCompany, Math.log(train.pulseTimesS.length), (logit * lnCompany) / 4];
}

/** Probability, 0 to 1, that a candidate is a pulse train, given its own and its company's. */
export function companyConfidence(alone: number, train: TrainCandidate, company: number): number {
  const confidence = logisticProbability(companyModel, companyFeatures(alone, train, company));
  return company < LONE_COMPANY
    ? (confidence * LONE_ODDS) / (1 - confidence + confidence * LONE_ODDS)
    : confidence;
}

/**
 * A dancer makes many runs: a train without likely company near by is seldom dance sound. The models learn from
 * hives with a hundred dances an hour; where no bee dances, hum makes most of what looks like a lone train. Its
 * odds are set from real in-hive clips without dances.
 */
const LONE_COMPANY = 0.8;
const LONE_ODDS = 0.15;

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
  'ln share before',
  'ln share after',
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
    Math.log(Math.max(0.01, tone.beforeShare)),
    Math.log(Math.max(0.01, tone.afterShare)),
  ];
}
