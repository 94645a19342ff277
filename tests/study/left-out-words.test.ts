import { expect, test } from 'vitest';
import { calibrationText } from '../../src/study/calibration-text.ts';
import { calibrateDances } from '../../src/study/study-calibration.ts';
import { dancesToFeeders } from './made-study.ts';

test('a curve with as many parameters as distances is not taken, and its dashes are explained', () => {
  const text = calibrationText(calibrateDances(dancesToFeeders, { curve: 'auto', runs: 'inner' }));
  expect(text).toMatch(/^line .* taken$/m);
  expect(text).toMatch(/^power .* - +- +.*as many parameters as distances: none can be left out$/m);
  expect(text).toMatch(/each feeder’s distance told without its own dances/);
});

test('asked for by name it is taken, and the text says why no feeder was left out', () => {
  const text = calibrationText(calibrateDances(dancesToFeeders, { curve: 'power', runs: 'inner' }));
  expect(text).toMatch(/taken; as many parameters as distances: none can be left out$/m);
  expect(text).toMatch(
    /^No distance could be told .* the power curve has 3 parameters, and the dances are to 3 distances\.$/m,
  );
  expect(text).not.toMatch(/each feeder’s distance told/);
});
