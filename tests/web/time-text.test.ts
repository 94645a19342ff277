import { expect, test } from 'vitest';
import { axisTimes, clockText } from '../../web/src/time-text.ts';

test('clock times go on over midnight, with seconds where asked', () => {
  expect(clockText('2031-06-14T23:59:50+02:00', 15)).toBe('00:00');
  expect(clockText('2031-06-14T23:59:50+02:00', 15, true)).toBe('00:00:05');
  expect(clockText('2031-06-14T08:10', 80, true)).toBe('08:11:20');
  expect(clockText(null, 15)).toBeNull();
});

test('an axis stands at round clock times and no label comes twice', () => {
  const start = '2031-06-14T08:10:23';
  const times = axisTimes(90, 10, start);
  expect(times).toEqual([7, 17, 27, 37, 47, 57, 67, 77, 87]);
  const labels = times.map((timeS) => clockText(start, timeS, true));
  expect(labels.slice(0, 4)).toEqual(['08:10:30', '08:10:40', '08:10:50', '08:11:00']);
  expect(new Set(labels).size).toBe(labels.length);
  expect(axisTimes(120, 60, null)).toEqual([0, 60, 120]);
  expect(axisTimes(5, 60, start)).toEqual([]);
});
