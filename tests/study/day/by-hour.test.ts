import { expect, test } from 'vitest';
import { dayHourRows } from '../../../src/study/day/by-hour.ts';

test('a recording counts in each hour with what of it lies there, and goes on after midnight', () => {
  const minutes = (startHour: number, durationS: number) =>
    dayHourRows([], [{ startHour, durationS }]).map((row) => [row.hour, row.recorded_min]);
  expect(minutes(8.5, 3600)).toEqual([
    [8, 30],
    [9, 30],
  ]);
  expect(minutes(10.25, 600)).toEqual([[10, 10]]);
  expect(minutes(23.75, 1800)).toEqual([
    [0, 15],
    [23, 15],
  ]);
});
