import { expect, test } from 'vitest';
import { latencyFigure } from '../../../src/study/figures/latency-figure.ts';

interface Bars {
  readonly x: number[];
  readonly y: number[];
  readonly width: number;
  readonly hovertext: string[];
}

const barsOf = (latenciesMin: readonly number[]) =>
  latencyFigure(latenciesMin.map((latencyMin) => 60 * latencyMin)).data[0] as unknown as Bars;

test('latencies are counted in bars as wide as 2 SD over n to the 0.4, rounded up to 1, 2 or 5', () => {
  // By hand: of 4, 6, 11, 19 min the mean is 10 and the SD √(134/3) = 6.68; 2 · 6.68 / 4^0.4 = 7.7 min, so 10.
  expect(barsOf([4, 6, 11, 19])).toMatchObject({ x: [5, 15], y: [2, 2], width: 10 });
  // A tenth of them, and the same bars a tenth as wide.
  expect(barsOf([0.4, 0.6, 1.1, 1.9])).toMatchObject({ x: [0.5, 1.5], y: [2, 2], width: 1 });
});

test('a bar begins with its edge, bars without a recruit are left out, and each says its stretch', () => {
  // 2 SD over 6 to the 0.4 is 16.9 min, so 20: the second is on an edge, and nothing lies from 40 to 60 min.
  const { x, y, width, hovertext } = barsOf([19, 20, 25, 31, 39, 65]);
  expect(width).toBe(20);
  expect(x).toEqual([10, 30, 70]);
  expect(y).toEqual([1, 4, 1]);
  expect(hovertext).toEqual(['0 to 20 min: 1', '20 to 40 min: 4', '60 to 80 min: 1']);
});

test('a time on an edge that is no whole minute belongs to the bar that begins there', () => {
  // 2 SD over 6 to the 0.4 is 0.14 min, so 0.2; 0.6 over 0.2 is 2.9999999999999996.
  const { x, y, width } = barsOf([0.4, 0.5, 0.6, 0.6, 0.7, 0.8]);
  expect(width).toBe(0.2);
  expect(x).toEqual([0.5, 0.7, 0.9]);
  expect(y).toEqual([2, 3, 1]);
});

test('one latency, or several alike, is a bar of a minute', () => {
  expect(barsOf([7.5])).toMatchObject({ x: [7.5], y: [1], width: 1 });
  expect(barsOf([7.5, 7.5, 7.5])).toMatchObject({ x: [7.5], y: [3], width: 1 });
});
