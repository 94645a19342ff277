import type { Call } from './call-kinds.ts';
import type { Alone, Company } from './company.ts';
import type { Tone } from './find-calls.ts';
import { callModel, companyModel } from './judge-models.ts';
import { logisticProbability } from './logistic.ts';
import { lnPulseCount } from './train-features.ts';

/** The names of what a train is judged by in the second round, in the order of `companyFeatures`. */
export const COMPANY_FEATURES = [
  'logit alone',
  'ln company',
  'ln unguided company',
  'guided',
  'ln pulse count',
  'duration misfit',
  'level misfit',
  'ln time before',
  'ln time after',
  'ln rival',
  'apart',
  'ln level apart',
  'locked',
  'ln pulse ratio',
] as const;

/** One number for each of `COMPANY_FEATURES`. */
export function companyFeatures({ train, alone, company }: Alone & { company: Company }): number[] {
  const lnCount = (count: number) => Math.log(0.03 + Math.min(3, count));
  return [
    Math.log(Math.max(1e-6, alone) / Math.max(1e-6, 1 - alone)),
    lnCount(company.likely),
    lnCount(company.unguided),
    train.guided ? 1 : 0,
    lnPulseCount(train),
    company.durationMisfit,
    company.levelMisfit,
    Math.log(company.beforeS),
    Math.log(company.afterS),
    Math.log(0.03 + company.rival),
    train.apartFrom === undefined ? 0 : 1,
    company.levelApart,
    company.locked,
    Math.log(train.pulseRatio),
  ];
}

/** Probability, 0 to 1, that a candidate is a pulse train, given its own and its company's. */
export function companyConfidence(one: Alone & { company: Company }): number {
  const confidence = logisticProbability(companyModel, companyFeatures(one));
  if (isOverwhelming(one)) return Math.max(LEAST_OVERWHELMING, confidence);
  return isLone(one) ? (confidence * LONE_ODDS) / (1 - confidence + confidence * LONE_ODDS) : confidence;
}

/**
 * So much evidence at one carrier comes from neither chance nor two dancers' runs strung together, whatever the company:
 * the model has learnt from few runs as long. Five in six such candidates were runs, though it had most of them below 0.5.
 */
const OVERWHELMING_EVIDENCE = 300;
const WELL_TUNED = 0.9;
const LEAST_OVERWHELMING = 0.8;

const isOverwhelming = ({ train }: Alone): boolean =>
  train.evidence >= OVERWHELMING_EVIDENCE && train.tuning >= WELL_TUNED;

/**
 * A train without likely company near by is seldom dance sound: where no bee dances, hum makes most of what looks
 * like a lone train, and what a chance likeness brings out around it keeps company with itself. Its odds are set from
 * real in-hive clips without dances.
 */
const LONE_COMPANY = 1;
const LONE_UNGUIDED = 0.6;
const LONE_ODDS = 0.1;

/** What no chance makes: in six hours without dances the lone candidates that passed for runs had 89 at the most. */
const STRONG_EVIDENCE = 200;

const isLone = ({ train, company: { likely, unguided } }: Alone & { company: Company }): boolean =>
  train.evidence < STRONG_EVIDENCE && (likely < LONE_COMPANY || unguided < LONE_UNGUIDED);

/** Probability, 0 to 1, that a call was made by a bee as timed; the most probable of its tones counts. */
export function callConfidence(call: Call): number {
  return Math.max(...call.tones.map(toneConfidence));
}

function toneConfidence(tone: Tone): number {
  return logisticProbability(callModel, toneFeatures(tone));
}

/** Probability of a tone from which on it is taken to hide what a train would sing meanwhile. */
const LIKELY = 0.5;

/** Tones that are likely calls, one reading of each. */
export function likelyCalls(tones: readonly Tone[]): Tone[] {
  return likeliestTones(tones.filter((tone) => toneConfidence(tone) > LIKELY));
}

/** A tone less probable than this is no call, nor one of a series. */
const LEAST_TONE_CONFIDENCE = 0.03;

/** Of tones that are readings of one sound (at one time, at nearly one carrier) the most probable. */
export function likeliestTones(tones: readonly Tone[]): Tone[] {
  const judged = tones
    .map((tone) => ({ tone, confidence: toneConfidence(tone) }))
    .filter(({ confidence }) => confidence >= LEAST_TONE_CONFIDENCE);
  judged.sort((a, b) => b.confidence - a.confidence || a.tone.startS - b.tone.startS);
  const kept: Tone[] = [];
  for (const { tone } of judged) if (!kept.some((other) => oneSound(tone, other))) kept.push(tone);
  return kept
    .filter((tone) => !kept.some((other) => isOvertone(tone, other)))
    .sort((a, b) => a.startS - b.startS || a.carrierHz - b.carrierHz);
}

/** Whether a tone is the octave of another that sounds meanwhile. */
function isOvertone(tone: Tone, other: Tone): boolean {
  const sharedS = Math.min(tone.endS, other.endS) - Math.max(tone.startS, other.startS);
  return sharedS > 0.5 * (tone.endS - tone.startS) && Math.abs(tone.carrierHz - 2 * other.carrierHz) < 40;
}

function oneSound(a: Tone, b: Tone): boolean {
  const sharedS = Math.min(a.endS, b.endS) - Math.max(a.startS, b.startS);
  const shorterS = Math.min(a.endS - a.startS, b.endS - b.startS);
  return sharedS > 0.3 * shorterS && Math.abs(a.carrierHz - b.carrierHz) < 50;
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
  'ln slow over fast',
  'slow unevenness',
  'ln slow beside share',
  'ln slow share before',
  'ln slow share after',
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
    Math.log(Math.max(0.01, tone.slow.ratio / Math.max(0.01, tone.ratio))),
    tone.slow.unevenness,
    Math.log(Math.max(0.01, tone.slow.besideShare)),
    Math.log(Math.max(0.01, tone.slow.beforeShare)),
    Math.log(Math.max(0.01, tone.slow.afterShare)),
  ];
}
