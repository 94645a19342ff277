import { expect, test } from 'vitest';
import { calibrationText } from '../../src/study/calibration-text.ts';
import { counted } from '../../src/study/counted.ts';
import { calibrateDances } from '../../src/study/study-calibration.ts';
import { dancesToFeeders } from './made-study.ts';

test('one is one, and all others are several', () => {
  expect([0, 1, 2].map((count) => counted(count, 'dance'))).toEqual(['0 dances', '1 dance', '2 dances']);
});

test('a calibration by one bee is by 1 marked bee', () => {
  const byOne = dancesToFeeders.map((dance) => ({ ...dance, beeId: 'a' }));
  const text = calibrationText(calibrateDances(byOne, { curve: 'line', runs: 'inner' }));
  expect(text).toMatch(/^n: 6 dances \(18 runs\) by 1 marked bee to 3 distances, /m);
});
