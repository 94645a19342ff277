import { expect, test } from 'vitest';
import { peakOffset } from '../../src/signal/peak.ts';

const parabola = (topAt: number) => (x: number) => 7 - 2 * (x - topAt) ** 2;

test.each([-0.5, -0.2, 0, 0.3, 0.5])('the top of a parabola at %f is found exactly', (topAt) => {
  const y = parabola(topAt);
  expect(peakOffset(y(-1), y(0), y(1))).toBeCloseTo(topAt, 12);
});

test('a top beyond halfway to the neighbour belongs to the neighbour', () => {
  const y = parabola(0.8);
  expect(peakOffset(y(-1), y(0), y(1))).toBe(0.5);
  expect(peakOffset(y(1), y(0), y(-1))).toBe(-0.5);
});

test('what has no top, flat, straight or hollow, is left in the middle', () => {
  expect(peakOffset(3, 3, 3)).toBe(0);
  expect(peakOffset(1, 2, 3)).toBe(0);
  expect(peakOffset(2, 1, 3)).toBe(0);
});
