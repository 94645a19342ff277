import { describe, expect, test } from 'vitest';
import { correctedAkaike } from '../../src/calibration/information-criterion.ts';
import { fitLeastSquares } from '../../src/calibration/least-squares.ts';
import { gradientAt } from '../../src/calibration/linearisation.ts';

const straight = { value: (x: number, [a, b]: readonly number[]) => a + b * x };

describe('fitLeastSquares', () => {
  test('agrees with the closed form of a straight line', () => {
    const fit = fitLeastSquares({ x: [0, 1, 2, 3], y: [1, 2, 2, 4] }, straight, [0, 0]);
    if (!fit.converged) throw new Error(fit.reason);
    // By hand: slope 4.5/5, intercept 2.25 − 0.9·1.5, residual sum 0.7, s² = 0.35, var(b) = s²/5.
    expect(fit.parameters[0]).toBeCloseTo(0.9, 10);
    expect(fit.parameters[1]).toBeCloseTo(0.9, 10);
    expect(fit.residualSum).toBeCloseTo(0.7, 10);
    expect(fit.standardErrors[1]).toBeCloseTo(Math.sqrt(0.35 / 5), 10);
    expect(fit.standardErrors[0]).toBeCloseTo(Math.sqrt(0.35 * (1 / 4 + 1.5 ** 2 / 5)), 10);
    expect(fit.covariance[0][1]).toBeCloseTo((-1.5 * 0.35) / 5, 10);
    expect(fit.rSquared).toBeCloseTo(1 - 0.7 / 4.75, 10);
  });

  test('points exactly on the curve leave no residual', () => {
    const fit = fitLeastSquares({ x: [1, 2, 3, 4], y: [3, 5, 7, 9] }, straight, [0, 1]);
    if (!fit.converged) throw new Error(fit.reason);
    expect(fit.parameters[1]).toBeCloseTo(2, 10);
    expect(fit.residualSd).toBeLessThan(1e-10);
  });

  test.each([
    ['as many parameters as points', { x: [1, 2], y: [1, 2] }, straight, [0, 0], /cannot bear/],
    [
      'two parameters that do the same',
      { x: [1, 2, 3, 4], y: [1, 2, 2, 4] },
      { value: (x: number, [a, b]: readonly number[]) => (a + b) * x },
      [1, 1],
      /apart/,
    ],
    [
      'a minimum at infinity',
      { x: [0, 1, 2, 3], y: [-2, -1.5, -1.2, -1.1] },
      { value: (_: number, [b]: readonly number[]) => Math.exp(-b) },
      [0],
      /settle|apart|slope/,
    ],
    [
      'a model without a value at the start',
      { x: [1, 2, 3], y: [1, 2, 3] },
      { value: (x: number, [b]: readonly number[]) => Math.log(b) * x },
      [-1],
      /no value/,
    ],
  ])('%s: a reason and no numbers', (_, points, model, start, reason) => {
    const fit = fitLeastSquares(points, model, start);
    expect(fit.converged).toBe(false);
    expect(fit).not.toHaveProperty('parameters');
    expect('reason' in fit && fit.reason).toMatch(reason);
  });
});

test('central differences agree with a known gradient', () => {
  const slopes = gradientAt({ value: (x, [a, b]) => a * Math.exp(b * x) }, 2, [3, 0]);
  expect(slopes[0]).toBeCloseTo(1, 9);
  expect(slopes[1]).toBeCloseTo(6, 8);
});

test('the corrected Akaike criterion by hand, and undefined for too few points', () => {
  // n = 6, k = 3: 10 + 6 + 24/2.
  expect(correctedAkaike(10, 3, 6)).toBe(28);
  expect(correctedAkaike(10, 3, 4)).toBeNull();
});
