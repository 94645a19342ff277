import { expect, test } from 'vitest';
import { splitPlace } from '../../web/src/split-place.ts';

const sound = { startS: 10, endS: 10.5, pulseTimesS: [10.02, 10.08, 10.3, 10.36, 10.42] };

test('a sound is split at the cursor where each part is as long as the service wants it', () => {
  expect(splitPlace(sound, 10.2)).toEqual({ firstEndS: 10.2, secondStartS: 10.2 });
  expect(splitPlace(sound, 10.012)).toEqual({ firstEndS: 10.012, secondStartS: 10.012 });
});

test('with the cursor nearer to an end than that, in the widest gap between pulses', () => {
  for (const cursorS of [9, 10.007, 10.493]) {
    const { firstEndS, secondStartS } = splitPlace(sound, cursorS)!;
    expect(firstEndS).toBeCloseTo(10.092, 9);
    expect(secondStartS).toBeCloseTo(10.288, 9);
  }
});

test('not at all where there is no room for two parts', () => {
  expect(splitPlace({ startS: 10, endS: 10.018, pulseTimesS: [] }, 10.009)).toBeNull();
});
