import { describe, expect, test } from 'vitest';
import { gapShareCost, pulseLogRatio } from '../../src/dance/likelihood.ts';
import type { MatchedView } from '../../src/dance/matched-view.ts';
import { logOtherDensity, pulseEvidence } from '../../src/dance/pulse-evidence.ts';
import { quarterWidths } from '../../src/dance/pulse-extent.ts';
import { bandNoisePower, bandSnrDb } from '../../src/dance/signal-to-noise.ts';

test('the likelihood ratio of a power is that of its formula, and never above 6', () => {
  // ln of the mean of e^(z s / (1 + s)) / (1 + s), on the grid of sixteenths.
  const exact = (z: number) =>
    Math.log([1, 2, 4, 10, 40].reduce((sum, s) => sum + Math.exp((z * s) / (1 + s)) / (1 + s), 0) / 5);
  for (const z of [0, 1, 2.5, 5]) expect(pulseLogRatio(z)).toBeCloseTo(exact(z), 12);
  expect(exact(31)).toBeGreaterThan(6);
  expect(pulseLogRatio(31)).toBe(6);
  expect(pulseLogRatio(1000)).toBe(6);
});

test('sound in a gap costs nothing up to 15 % of the pulses, all from 50 % on, and half midway in its logarithm', () => {
  const cost = (share: number) => gapShareCost(4, 4 / share) / pulseLogRatio(4);
  expect(cost(0.149)).toBe(0);
  expect(cost(Math.sqrt(0.15 * 0.5))).toBeCloseTo(0.5, 9);
  expect(cost(0.5)).toBeCloseTo(1, 9);
  expect(cost(0.9)).toBe(1);
  // A gap that is no louder than noise would earn nothing as sound.
  expect(gapShareCost(0.5, 0.6)).toBe(0);
});

test('other sound is noise, or once in 25 times a burst of twice the level around, of three at least', () => {
  const density = (ratio: number, burst: number) =>
    Math.log(0.96 * Math.exp(-ratio) + (0.04 / burst) * Math.exp(-ratio / burst));
  for (const ratio of [0.5, 4, 12]) {
    expect(logOtherDensity(ratio, 1)).toBeCloseTo(density(ratio, 3), 9);
    expect(logOtherDensity(ratio, 5)).toBeCloseTo(density(ratio, 10), 9);
  }
});

/** A view in which all is as quiet as noise, but for what is said. */
const view = (more: Partial<MatchedView> = {}): MatchedView => ({
  matched: () => 1,
  leftAt: () => 1,
  count: 1000,
  fromS: 0,
  stepS: 0.001,
  powerBeside: () => 0.1,
  tuningOf: () => 0,
  edges: (_, last) => new Float64Array(last + 1).fill(1),
  ...more,
});

describe('the evidence of a pulse', () => {
  const evidence = (more: Partial<MatchedView> = {}, ratio = 6) =>
    pulseEvidence(view(more), { timeS: 0.5, ratio }, 0.05, 10);

  test('is nothing where less than three tenths of a pulse was left', () => {
    expect(evidence({ leftAt: () => 0.29 })).toBe(0);
    expect(evidence({ leftAt: () => 0.31 })).not.toBe(0);
  });

  test('is less where the power beside the carrier is more than 0.6 of that at it', () => {
    expect(evidence({ powerBeside: () => 0.59 })).toBe(evidence());
    // Two for each e-fold.
    expect(evidence() - evidence({ powerBeside: () => 0.6 * Math.E })).toBeCloseTo(2, 9);
  });

  test('is less where the gaps around are loud, and looks half a beat and one and a half away', () => {
    expect(evidence({ matched: () => 20 }, 15)).toBeLessThan(evidence({}, 15) - 1);
    const asked: number[] = [];
    evidence({ matched: (index) => asked.push(index) });
    expect([...asked].sort((a, b) => a - b)).toEqual([425, 475, 525, 575]);
  });
});

test('the top of a pulse is sought within 4 ms of its middle: what is louder beyond is another sound', () => {
  const power = (k: number) => (k === 505 ? 12 : Math.max(1, 9 - Math.abs(k - 500)));
  const edges = (_: number, last: number) => Float64Array.from({ length: last + 1 }, (__, k) => power(k));
  const { leftS } = quarterWidths(view({ edges }), [{ timeS: 0.5, ratio: 9 }], 0.05);
  expect(leftS).toBeCloseTo(0.006, 9);
});

test('a pulse reaches to where the mean over all falls to a quarter between base and top', () => {
  // A peak of 9 over 1 that falls by 1 a millisecond before its middle, by 2 after it: 3 at 6 and at 3 ms.
  const middles = [300, 350, 400];
  const power = (k: number) =>
    Math.max(1, ...middles.map((middle) => (k < middle ? 9 - (middle - k) : 9 - 2 * (k - middle))));
  const edges = (_: number, last: number) => Float64Array.from({ length: last + 1 }, (__, k) => power(k));
  const pulses = middles.map((middle) => ({ timeS: middle / 1000, ratio: 9 }));
  const { leftS, rightS } = quarterWidths(view({ edges }), pulses, 0.05);
  expect(leftS).toBeCloseTo(0.006, 9);
  expect(rightS).toBeCloseTo(0.003, 9);
});

describe('the signal-to-noise ratio in the band', () => {
  // White noise of variance 2 at 2000 Hz: a fifth of it lies in 200 to 400 Hz.
  const noise = { noisePowerAt: () => 2, callNoisePowerAt: () => 2, sampleRateHz: 2000, windowLength: 49 };

  test('has a fifth of white noise in the band', () => {
    expect(bandNoisePower(noise, 1)).toBeCloseTo(0.4, 12);
  });

  test('of a tone of power P, which shows in a window of N samples as 1 + P N / (3 v)', () => {
    for (const power of [0.4, 4, 40]) {
      const ratio = 1 + (power * 49) / (3 * 2);
      expect(bandSnrDb(noise, ratio, 300, 1)).toBeCloseTo(10 * Math.log10(power / 0.4), 9);
    }
  });

  test('of a long run, which lifts the floor that it is measured over, stands over the floor that is held down', () => {
    const lifted = { ...noise, noisePowerAt: () => 6 };
    const ratio = 1 + (40 * 49) / (3 * 6);
    expect(bandSnrDb(lifted, ratio, 300, 1)).toBeCloseTo(10 * Math.log10(40 / 0.4), 9);
  });
});
