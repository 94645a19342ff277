import { describe, expect, test } from 'vitest';
import { type Alone, companyOf } from '../../src/dance/company.ts';
import type { TrainCandidate } from '../../src/dance/find-trains.ts';
import { guidesOf, isSameGuide } from '../../src/dance/guides.ts';
import { madeTrain } from './made-train.ts';

const one = madeTrain(20, { pulseCount: 21 });
const ofOthers = (others: readonly Alone[], train: TrainCandidate = one) =>
  companyOf({ train, alone: 0.5 }, { others, unguided: [], all: others });

describe('companyOf', () => {
  test('sums how likely others near by are, and tells the time to the nearest before and after', () => {
    // Runs of 1 s: ends 2 s before, and begins 3 s after.
    const company = ofOthers([
      { train: madeTrain(17, { pulseCount: 21 }), alone: 0.9 },
      { train: madeTrain(24, { pulseCount: 21 }), alone: 0.8 },
    ]);
    expect(company.likely).toBeCloseTo(1.7, 9);
    expect(company.beforeS).toBeCloseTo(2, 9);
    expect(company.afterS).toBeCloseTo(3, 9);
    expect(company.unguided).toBe(0);
  });

  test('counts another less the further it is in carrier and beat: a normal of 10 Hz and 12 %', () => {
    const likely = (more: Partial<TrainCandidate>) =>
      ofOthers([{ train: madeTrain(24, more), alone: 0.8 }]).likely;
    expect(likely({ carrierHz: 270 })).toBeCloseTo(0.8 * Math.exp(-0.5), 9);
    expect(likely({ beatS: 0.05 * Math.exp(0.24) })).toBeCloseTo(0.8 * Math.exp(-2), 9);
  });

  test('one that is hardly hers is neither the run before nor the run after', () => {
    // A share of 0.24 and of 0.26: a quarter is asked for.
    const away = (share: number) => ({ train: madeTrain(18, { pulseCount: 21 }), alone: share });
    expect(ofOthers([away(0.24)]).beforeS).toBe(7);
    expect(ofOthers([away(0.26)]).beforeS).toBeCloseTo(1, 9);
  });

  test('what is nearer than 0.3 s or further than 7 s is no company', () => {
    const likely = (startS: number) => ofOthers([{ train: madeTrain(startS), alone: 0.8 }]).likely;
    expect(likely(21.25)).toBe(0);
    expect(likely(21.35)).toBeCloseTo(0.8, 9);
    expect(likely(27.9)).toBeCloseTo(0.8, 9);
    expect(likely(28.1)).toBe(0);
  });

  test('sets duration and level against the others’, less where there is little company', () => {
    const twice = madeTrain(24, { pulseCount: 41, pulseRatio: 40 });
    const { durationMisfit, levelMisfit } = ofOthers([{ train: twice, alone: 0.8 }]);
    expect(durationMisfit).toBeCloseTo((0.8 * Math.log(1 / 2)) / (0.8 + 0.5), 9);
    expect(levelMisfit).toBeCloseTo((0.8 * Math.log(10 / 40)) / (0.8 + 0.5), 9);
  });

  test('has for a rival the likeliest that holds three tenths of the shorter of the two', () => {
    const rival = (train: TrainCandidate) => ofOthers([{ train, alone: 0.7 }]).rival;
    // Wholly within, though but a fifth as long.
    expect(rival(madeTrain(20.8, { pulseCount: 5 }))).toBe(0.7);
    expect(rival(madeTrain(20.65, { pulseCount: 21 }))).toBe(0.7);
    expect(rival(madeTrain(20.75, { pulseCount: 21 }))).toBe(0);
    expect(ofOthers([{ train: one, alone: 0.7 }]).rival).toBe(0);
  });

  describe('of a train found when another was taken out', () => {
    const other = madeTrain(20, { pulseCount: 21, carrierHz: 290, pulseRatio: 40 });
    const faint = madeTrain(20, { carrierHz: 290, pulseRatio: 5 });
    const found = (pulseTimesS: readonly number[]) =>
      ofOthers([{ train: other, alone: 0.9 }], { ...one, pulseTimesS, apartFrom: [faint, other] });

    test('that one is no rival, and its level is set against the strongest', () => {
      const { rival, levelApart } = found(one.pulseTimesS);
      expect(rival).toBe(0);
      expect(levelApart).toBeCloseTo(Math.log(10 / 40), 9);
    });

    test('it keeps step where its pulses stand always alike between the other’s, and does not at any', () => {
      expect(found([20.02, 20.12, 20.17, 20.42]).locked).toBeCloseTo(1, 9);
      // A quarter of a beat on at each: the mean of four directions is nothing.
      expect(found([20.01, 20.0725, 20.135, 20.1975]).locked).toBeCloseTo(0, 9);
      // Two say nothing.
      expect(found([20.02, 20.12]).locked).toBe(0);
    });
  });
});

describe('guidesOf', () => {
  const run = (startS: number, alone: number, more: Partial<TrainCandidate> = {}): Alone => ({
    train: madeTrain(startS, more),
    alone,
  });

  test('two likely runs of a dance guide, by their medians and 6 s around them', () => {
    const [guide, ...others] = guidesOf([
      run(20, 0.9, { carrierHz: 258, pulseRatio: 10 }),
      run(22.5, 0.8, { carrierHz: 262, pulseRatio: 20 }),
    ]);
    expect(others).toEqual([]);
    expect(guide).toMatchObject({ carrierHz: 260, strength: 15, fromS: 14 });
    expect(guide!.beatS).toBeCloseTo(0.05, 9);
    expect(guide!.toS).toBeCloseTo(22.5 + 0.5 + 6, 9);
  });

  test('one run guides nothing, nor do unlikely ones', () => {
    expect(guidesOf([run(20, 0.9)])).toEqual([]);
    expect(guidesOf([run(20, 0.9), run(22.5, 0.14)])).toEqual([]);
    expect(guidesOf([run(20, 0.9), run(22.5, 0.16)])).toHaveLength(1);
  });
});

test('a guide is another one from 1 Hz, 1 % of beat, 0.1 of ln strength or half a second on', () => {
  const guide = { carrierHz: 260, beatS: 0.05, strength: 10, fromS: 14, toS: 29 };
  for (const [near, far] of [
    [{ carrierHz: 260.9 }, { carrierHz: 261.1 }],
    [{ beatS: 0.05 * Math.exp(0.009) }, { beatS: 0.05 * Math.exp(0.011) }],
    [{ strength: 10 * Math.exp(0.09) }, { strength: 10 * Math.exp(0.11) }],
    [{ fromS: 14.4 }, { fromS: 14.6 }],
    [{ toS: 29.4 }, { toS: 29.6 }],
  ]) {
    expect(isSameGuide(guide, { ...guide, ...near })).toBe(true);
    expect(isSameGuide(guide, { ...guide, ...far })).toBe(false);
  }
});
