import { beforeAll, describe, expect, test } from 'vitest';
import { detectInSegment, type FoundTrain } from '../../src/dance/detect-segment.ts';
import { type PulseCandidates, pulseCandidates } from '../../src/dance/pulse-candidates.ts';
import { type PulseChain, pulseChains } from '../../src/dance/pulse-chains.ts';
import { viewSegment } from '../../src/dance/segment-view.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { refineTrain } from '../../src/dance/train-refinement.ts';
import { seededRandom } from '../../src/random.ts';
import { addTone, addTrain, type MadeTrain, PULSE_S, RATE_HZ, whiteNoise } from './made-sound.ts';

const LENGTH_S = 60;

const viewOf = (samples: Float32Array) => viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);

/** Trains found in samples taken for a whole recording. */
const trainsIn = (samples: Float32Array, leastConfidence = DEFAULT_SETTINGS.leastConfidence): FoundTrain[] =>
  detectInSegment(
    {
      samples,
      sampleRateHz: RATE_HZ,
      startS: 0,
      coreStartS: Number.NEGATIVE_INFINITY,
      coreEndS: Number.POSITIVE_INFINITY,
    },
    { ...DEFAULT_SETTINGS, leastConfidence },
  ).trains;

/** Twelve runs of one made dancer in noise. */
const MADE: readonly MadeTrain[] = Array.from({ length: 12 }, (_, k) => ({
  startS: 2 + 4.5 * k,
  pulseCount: 12 + (k % 3) * 4,
  carrierHz: 262 + (k % 2) * 3,
  snrDb: 12,
}));

describe('pulses of made trains in noise', () => {
  let samples: Float32Array;
  let middles: number[][];
  let candidates: PulseCandidates;
  let chains: PulseChain[];
  beforeAll(() => {
    samples = whiteNoise(61, LENGTH_S);
    const random = seededRandom(62);
    middles = MADE.map((train) => addTrain(samples, train, random));
    const { carriers } = viewOf(samples);
    candidates = pulseCandidates(carriers);
    chains = pulseChains(carriers, candidates);
  });

  test('a candidate stands at nearly every pulse, at its carrier', () => {
    const { hopS } = viewOf(samples).carriers;
    let near = 0;
    let count = 0;
    MADE.forEach((train, k) => {
      for (const middleS of middles[k]!) {
        count++;
        for (let c = 0; c < candidates.count; c++) {
          const apartS = Math.abs(candidates.peak[c]! * hopS - middleS);
          if (apartS < 0.008 && Math.abs(candidates.hz[c]! - train.carrierHz) < 25) {
            near++;
            break;
          }
        }
      }
    });
    expect(near / count).toBeGreaterThan(0.95);
  });

  test('candidates are in order of frame, with finite values within the band', () => {
    const { carriers } = viewOf(samples);
    const last = carriers.firstCarrierHz + carriers.carrierCount * carriers.carrierStepHz;
    for (let c = 0; c < candidates.count; c++) {
      if (c > 0) expect(candidates.frame[c]!).toBeGreaterThanOrEqual(candidates.frame[c - 1]!);
      expect(Math.abs(candidates.peak[c]! - candidates.frame[c]!)).toBeLessThanOrEqual(0.5);
      expect(candidates.hz[c]!).toBeGreaterThan(carriers.firstCarrierHz);
      expect(candidates.hz[c]!).toBeLessThan(last);
      expect(Number.isFinite(candidates.logRatio[c]!)).toBe(true);
    }
  });

  test('a chain runs along every train, its pulses in order and used once', () => {
    const { hopS } = viewOf(samples).carriers;
    const used = new Set<number>();
    for (const chain of chains) {
      chain.candidates.forEach((node, k) => {
        expect(used.has(node)).toBe(false);
        used.add(node);
        if (k > 0) expect(node).toBeGreaterThan(chain.candidates[k - 1]!);
      });
    }
    for (const times of middles) {
      const shares = chains.map((chain) => {
        const chained = chain.candidates.map((node) => candidates.peak[node]! * hopS);
        return (
          times.filter((time) => chained.some((other) => Math.abs(other - time) < 0.01)).length / times.length
        );
      });
      expect(Math.max(...shares)).toBeGreaterThan(0.7);
    }
  });

  test('refined, trains begin and end where they were made to, within 15 ms, and keep beat and carrier', () => {
    const view = viewOf(samples);
    const errorsS: number[] = [];
    MADE.forEach((train, k) => {
      const times = middles[k]!;
      // The inner half is enough to start from: the rest is to be taken up.
      const rough = times.slice(Math.floor(times.length / 4), Math.ceil((3 * times.length) / 4));
      const refined = refineTrain(view, { pulseTimesS: rough, carrierHz: train.carrierHz + 6 })!;
      expect(Math.abs(refined.carrierHz - train.carrierHz)).toBeLessThan(8);
      expect(Math.abs(refined.beatS - 0.05)).toBeLessThan(0.003);
      expect(refined.pulseRatios).toHaveLength(refined.pulseTimesS.length);
      errorsS.push(refined.startS - (times[0]! - PULSE_S / 2), refined.endS - (times.at(-1)! + PULSE_S / 2));
    });
    const sorted = errorsS.map(Math.abs).sort((a, b) => a - b);
    expect(sorted[Math.floor(0.8 * sorted.length)]).toBeLessThan(0.015);
  });

  test('found end to end, all twelve and no other', () => {
    const found = trainsIn(samples);
    expect(found).toHaveLength(MADE.length);
    found.forEach((train, k) => {
      expect(Math.abs(train.startS - (middles[k]![0]! - PULSE_S / 2))).toBeLessThan(0.06);
      expect(Math.abs(train.endS - (middles[k]!.at(-1)! + PULSE_S / 2))).toBeLessThan(0.06);
    });
  });
});

describe('what is no train', () => {
  test('noise alone gives few chains beside made trains, and next to no trains', () => {
    const noise = whiteNoise(63, 2 * LENGTH_S);
    const { carriers } = viewOf(noise);
    const scores = pulseChains(carriers, pulseCandidates(carriers)).map(({ score }) => score);
    // Made trains of 12 dB and 12 pulses or more score far higher than what noise strings together.
    const loud = whiteNoise(64, 10);
    addTrain(loud, { startS: 4, pulseCount: 14, carrierHz: 265, snrDb: 12 }, seededRandom(65));
    const { carriers: loudCarriers } = viewOf(loud);
    const made = Math.max(
      ...pulseChains(loudCarriers, pulseCandidates(loudCarriers)).map(({ score }) => score),
    );
    expect(scores.filter((score) => score > made)).toEqual([]);
    expect(trainsIn(noise).length).toBeLessThanOrEqual(1);
  });

  test.each([
    { name: 'begging calls', lengthS: 0.12, carrierHz: 320 },
    { name: 'long begging calls', lengthS: 0.2, carrierHz: 350 },
    { name: 'piping', lengthS: 0.9, carrierHz: 390 },
    { name: 'knocks', lengthS: 0.02, carrierHz: 270 },
  ])('$name far apart are no trains', ({ lengthS, carrierHz }) => {
    const samples = whiteNoise(66, LENGTH_S);
    for (let k = 0; k < 20; k++) addTone(samples, 1.5 + 2.8 * k, lengthS, carrierHz, 15);
    expect(trainsIn(samples)).toEqual([]);
  });

  test('digital silence holds nothing', () => {
    expect(trainsIn(new Float32Array(LENGTH_S * RATE_HZ))).toEqual([]);
  });
});
