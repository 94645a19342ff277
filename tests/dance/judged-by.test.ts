import { describe, expect, test } from 'vitest';
import {
  COMPANY_FEATURES,
  companyConfidence,
  companyFeatures,
  likeliestTones,
  TONE_FEATURES,
  toneFeatures,
} from '../../src/dance/judge.ts';
import { logisticProbability, termsOf } from '../../src/dance/logistic.ts';
import { type SegmentView, viewSegment } from '../../src/dance/segment-view.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { soundFeatures } from '../../src/dance/sound-features.ts';
import { TRAIN_FEATURES, trainFeatures } from '../../src/dance/train-features.ts';
import { addTone, RATE_HZ, whiteNoise } from './made-sound.ts';
import { madeTone } from './made-tone.ts';
import { madeTrain } from './made-train.ts';

test('a train is lone where likely company is little, and where what stands out by itself is', () => {
  const rest = {
    durationMisfit: 0,
    levelMisfit: 0,
    beforeS: 2,
    afterS: 2,
    rival: 0,
    levelApart: 0,
    locked: 0,
  };
  const oddsOf = (likely: number, unguided: number, evidence = 30) => {
    const confidence = companyConfidence({
      train: madeTrain(20, { evidence }),
      alone: 0.8,
      company: { ...rest, likely, unguided },
    });
    return confidence / (1 - confidence);
  };
  // Its odds fall to a tenth at once; what the model says is nearly the same with a hair less of company.
  expect(oddsOf(1 - 1e-6, 2) / oddsOf(1, 2)).toBeCloseTo(0.1, 3);
  expect(oddsOf(2, 0.6 - 1e-6) / oddsOf(2, 0.6)).toBeCloseTo(0.1, 3);
  // Evidence beyond what chance makes needs no company.
  expect(oddsOf(0, 0, 199) / oddsOf(0, 0, 200)).toBeCloseTo(0.1, 3);
  expect(oddsOf(2, 2, 199) / oddsOf(2, 2, 200)).toBeCloseTo(1, 6);
});

test('overwhelming evidence at one carrier is likely a run, however unlike its company', () => {
  const confidenceOf = (evidence: number, tuning: number, alone = 0.2) =>
    companyConfidence({
      train: madeTrain(20, { evidence, tuning }),
      alone,
      company: {
        likely: 3,
        unguided: 2,
        durationMisfit: 1.2,
        levelMisfit: -1.5,
        beforeS: 2,
        afterS: 2,
        rival: 0.9,
        levelApart: 0,
        locked: 0,
      },
    });
  expect(confidenceOf(299, 1)).toBeLessThan(0.3);
  expect(confidenceOf(300, 0.89)).toBeLessThan(0.3);
  expect(confidenceOf(300, 0.9)).toBe(0.8);
  expect(confidenceOf(300, 0.9, 0.999)).toBeGreaterThanOrEqual(0.8);
});

const named = (names: readonly string[], values: readonly number[]) =>
  Object.fromEntries(names.map((name, k) => [name, values[k]]));

describe('what is judged by stands under its name', () => {
  test('of the company', () => {
    const company = {
      likely: 2,
      unguided: 1,
      durationMisfit: 0.3,
      levelMisfit: -0.4,
      beforeS: 2.5,
      afterS: 3.5,
      rival: 0.17,
      levelApart: -1.2,
      locked: 0.6,
    };
    const train = madeTrain(20, { pulseCount: 12, guided: true, apartFrom: [], pulseRatio: 30 });
    const features = named(COMPANY_FEATURES, companyFeatures({ train, alone: 0.8, company }));
    expect(features).toEqual({
      'logit alone': expect.closeTo(Math.log(4), 9),
      'ln company': Math.log(2.03),
      'ln unguided company': Math.log(1.03),
      guided: 1,
      'ln pulse count': Math.log(12),
      'duration misfit': 0.3,
      'level misfit': -0.4,
      'ln time before': Math.log(2.5),
      'ln time after': Math.log(3.5),
      'ln rival': expect.closeTo(Math.log(0.2), 9),
      apart: 1,
      'ln level apart': -1.2,
      locked: 0.6,
      'ln pulse ratio': Math.log(30),
    });
    const alone = companyFeatures({ train: madeTrain(20), alone: 0.8, company: { ...company, likely: 5 } });
    expect(named(COMPANY_FEATURES, alone)).toMatchObject({
      guided: 0,
      apart: 0,
      'ln company': Math.log(3.03),
    });
    const countOf = (pulseCount: number) =>
      named(COMPANY_FEATURES, companyFeatures({ train: madeTrain(20, { pulseCount }), alone: 0.8, company }))[
        'ln pulse count'
      ];
    expect(countOf(59)).toBeCloseTo(Math.log(59), 9);
    // The models have learnt from hardly longer runs.
    expect(countOf(180)).toBeCloseTo(Math.log(60), 9);
  });

  test('of a tone', () => {
    const made = madeTone({
      endS: 1.3,
      carrierHz: 300,
      riseHz: -25,
      ratio: 200,
      unevenness: 0.3,
      besideShare: 0.04,
      beforeShare: 0.2,
      afterShare: 0.001,
      slow: { ratio: 500, unevenness: 0.4, besideShare: 0.03, beforeShare: 0.3, afterShare: 0.002 },
    });
    expect(named(TONE_FEATURES, toneFeatures(made))).toEqual({
      'ln power over floor': Math.log(100),
      unevenness: 0.3,
      'ln beside share': Math.log(0.04),
      'ln duration': expect.closeTo(Math.log(2), 9),
      'carrier from 350 Hz': -0.5,
      'carrier from 350 Hz, squared': 0.25,
      rise: 0.5,
      'ln share before': Math.log(0.2),
      'ln share after': Math.log(0.01),
      'ln slow over fast': Math.log(2.5),
      'slow unevenness': 0.4,
      'ln slow beside share': Math.log(0.03),
      'ln slow share before': Math.log(0.3),
      'ln slow share after': Math.log(0.01),
    });
  });

  test('of a train: its own beat, level and carrier', () => {
    const view = viewSegment(whiteNoise(61, 40), RATE_HZ, DEFAULT_SETTINGS);
    const made = madeTrain(20, {
      beatS: 0.06,
      carrierHz: 285,
      pulseRatio: 80,
      gapShare: 0.001,
      evidence: 33,
      tuning: 0.7,
    });
    expect(named(TRAIN_FEATURES, trainFeatures(made, view))).toMatchObject({
      'ln pulse count': Math.log(11),
      'chain score': Math.sqrt(20) / 3,
      'evidence per pulse': 1,
      'ln pulse ratio': Math.log(60),
      'ln gap share': Math.log(0.01),
      'beat irregularity': expect.closeTo(0, 9),
      'level irregularity': expect.closeTo(0, 9),
      'share of beats heard': 1,
      'ln beat': expect.closeTo(Math.log(0.06 / 0.045), 9),
      'carrier from 265 Hz, squared': expect.closeTo(0.16, 9),
      tuning: 0.7,
    });
  });

  test('of a train: the spectrum at its middle', () => {
    const view = viewSegment(whiteNoise(63, 40), RATE_HZ, DEFAULT_SETTINGS);
    const { flatness, crest, centroidHz } = soundFeatures(view.samples, RATE_HZ, 20.25);
    expect(named(TRAIN_FEATURES, trainFeatures(madeTrain(20), view))).toMatchObject({
      'spectral flatness': 10 * flatness,
      'spectral crest': Math.log(crest),
      'spectral centroid from carrier': (centroidHz - 260) / 100,
    });
  });

  test('of a train: beats that are hidden are not missed', () => {
    const view = viewSegment(whiteNoise(61, 40), RATE_HZ, DEFAULT_SETTINGS);
    const all = madeTrain(20, { pulseCount: 15 }).pulseTimesS;
    // Five of fifteen pulses are not there: nine links where fourteen beats pass.
    const made = madeTrain(20, { pulseTimesS: [...all.slice(0, 5), ...all.slice(10)] });
    const heard = (hiddenForS: number) => {
      const covered = [[made.startS + 0.2, made.startS + 0.2 + hiddenForS]] as const;
      return named(TRAIN_FEATURES, trainFeatures(made, { ...view, covered }))['share of beats heard'];
    };
    expect(heard(0)).toBeCloseTo(9 / 14, 9);
    expect(heard(0.1)).toBeCloseTo(9 / 12, 9);
    expect(heard(0.25)).toBe(1);
  });

  test('of a train: power beside it while it sounds, and at its carrier before and after', () => {
    const features = (add: (samples: Float32Array) => void, hidden: Partial<SegmentView> = {}) => {
      const samples = whiteNoise(62, 40);
      add(samples);
      const view = { ...viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS), ...hidden };
      const made = madeTrain(20, { pulseCount: 21, carrierHz: 265, pulseRatio: 40 });
      return named(TRAIN_FEATURES, trainFeatures(made, view)) as Record<string, number>;
    };
    const quiet = features(() => {});
    const beside = features((samples) => addTone(samples, 20, 1, 345, 12));
    const call = (samples: Float32Array) => addTone(samples, 21.1, 0.2, 265, 12);
    const outside = features(call);
    expect(beside['ln beside share']! - quiet['ln beside share']!).toBeGreaterThan(1);
    expect(Math.abs(beside['ln outside share']! - quiet['ln outside share']!)).toBeLessThan(0.3);
    expect(outside['ln outside share']! - quiet['ln outside share']!).toBeGreaterThan(1);
    expect(Math.abs(outside['ln beside share']! - quiet['ln beside share']!)).toBeLessThan(0.3);
    // Where a call is known to hide or to have been taken out, its sound is none of the train's surroundings.
    const takenOut = [{ span: [21.08, 21.32], onset: [21.07, 21.09], carrierHz: 265 }] as const;
    for (const hidden of [{ covered: [[21.08, 21.32]] }, { takenOut }] as const) {
      const told = features(call, hidden)['ln outside share']!;
      expect(Math.abs(told - quiet['ln outside share']!)).toBeLessThan(0.4);
    }
  });
});

test('sound around a moment is the 64 ms before it and the 64 ms after it', () => {
  const samples = new Float32Array(2 * RATE_HZ);
  for (let n = 0; n < samples.length; n++) {
    samples[n] = Math.sin((2 * Math.PI * (n < RATE_HZ ? 250 : 750) * n) / RATE_HZ);
  }
  const centroidHz = (centreS: number) => soundFeatures(samples, RATE_HZ, centreS).centroidHz;
  expect(Math.abs(centroidHz(0.935) - 250)).toBeLessThan(30);
  expect(Math.abs(centroidHz(1.065) - 750)).toBeLessThan(30);
  expect(Math.abs(centroidHz(1) - 500)).toBeLessThan(30);
});

test('a tone is the octave of another where they sound together for half of it', () => {
  const low = madeTone({ startS: 1, endS: 1.2, carrierHz: 270 });
  const octave = (startS: number, carrierHz: number) =>
    likeliestTones([low, madeTone({ startS, endS: startS + 0.2, carrierHz, ratio: 50 })]).length;
  expect(octave(1.09, 520)).toBe(1);
  expect(octave(1.11, 520)).toBe(2);
  expect(octave(1, 501)).toBe(1);
  expect(octave(1, 499)).toBe(2);
});

test('what is hardly a call is none of the likeliest tones: no bee calls at 610 Hz', () => {
  expect(likeliestTones([madeTone({ carrierHz: 350 }), madeTone({ carrierHz: 610 })])).toHaveLength(1);
});

describe('the logistic model', () => {
  test('is made of features in SD, none further out than four, and of all their products', () => {
    const scale = { means: [1, 10], deviations: [2, 5] };
    // (5 − 1) / 2 and (−5 − 10) / 5; then the squares and the product.
    expect(termsOf([5, -5], scale)).toEqual([2, -3, 4, -6, 9]);
    expect(termsOf([101, 0], scale)).toEqual([4, -2, 16, -8, 4]);
    expect(termsOf([-101, 10], scale).slice(0, 2)).toEqual([-4, 0]);
  });

  test('gives 1 / (1 + e^−x) of their weighted sum', () => {
    const model = { means: [1], deviations: [2], intercept: 0.5, weights: [1, -0.25] };
    expect(logisticProbability(model, [5])).toBeCloseTo(1 / (1 + Math.exp(-1.5)), 12);
  });
});
