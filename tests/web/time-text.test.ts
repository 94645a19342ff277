import { expect, test } from 'vitest';
import { axisLabels, axisTimes, clockText } from '../../web/src/time-text.ts';

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

test.each([
  ['a phone', 308, 430, 10],
  ['a phone, hours into a recording', 308, 7200, 10],
  ['a phone, closest', 308, 7200, 1],
  ['a desk, hours into a recording', 850, 36_000, 10],
])('labels of a window stand clear of each other and of its end, on %s', (_, widthPx, fromS, spanS) => {
  const labels = axisLabels(fromS, spanS, widthPx);
  expect(labels.length).toBeGreaterThan(1);
  const ends = labels.map(({ timeS, words }) => {
    const left = (widthPx * (timeS - fromS)) / spanS;
    // A digit of 12 px is some 6.7 px wide.
    return { left, right: left + 5 + 6.7 * words.length };
  });
  for (const [k, { left }] of ends.entries()) {
    if (k > 0) expect(left).toBeGreaterThanOrEqual(ends[k - 1]!.right);
  }
  expect(ends.at(-1)!.right).toBeLessThanOrEqual(widthPx);
});

test('where there is room a window of ten seconds has a label each two, one of a second nine', () => {
  const words = (spanS: number) => axisLabels(430, spanS, 738).map((label) => label.words);
  expect(words(10)).toEqual(['7:10', '7:12', '7:14', '7:16', '7:18']);
  expect(words(1)).toEqual(['7:10.0', '7:10.2', '7:10.4', '7:10.6', '7:10.8']);
});
