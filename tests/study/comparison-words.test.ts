import { expect, test } from 'vitest';
import type { MeasureComparison, TreatmentComparison } from '../../src/study/compare-observations.ts';
import { comparisonText } from '../../src/study/comparison-text.ts';

const ranged = (value: number) => ({ value, low: value - 10, high: value + 10 });
const at = (feederM: number, shiftM: number) => ({
  feederM,
  treatedDances: 4,
  referenceDances: 5,
  shiftS: ranged(0),
  shiftM: ranged(shiftM),
});
const textWith = (pValue: number) => {
  const duration = {
    counts: { bees: 2, bothBees: 0, treatedDances: 8, referenceDances: 10 },
    shiftS: ranged(0),
    shiftPer15s: null,
    meanShiftM: ranged(123),
    feedersM: [150, 1800],
    byFeeder: [at(150, 35), at(1800, 450)],
    change: { likelihoodRatio: 7.5, pValue },
    pValue: null,
    shuffled: 'bees',
    beeEffects: [],
    overBees: null,
    referenceMeanS: 1,
  } satisfies MeasureComparison;
  const loaded: TreatmentComparison = { treatment: 'loaded', duration, tempo: null, notes: [] };
  return comparisonText({ reference: null, level: 0.95, treatments: [loaded] });
};

test('each feeder has its own shift, the one shift is told once, and a change with distance is a warning', () => {
  const text = textWith(0.006);
  expect(text.match(/\b123\b/g)).toHaveLength(1);
  expect(text).toMatch(/^ *150 +4 +5 .* 35 +25 +45$/m);
  expect(text).toMatch(/^ *1800 +4 +5 .* 450 +440 +460$/m);
  expect(text).toMatch(
    /^Warning: the shift is not alike at every distance \(likelihood ratio 7\.50 on 1 degree of freedom, p = 0\.006\)/m,
  );
  expect(textWith(0.3)).not.toMatch(/Warning/);
});
