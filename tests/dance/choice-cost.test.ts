import { describe, expect, test } from 'vitest';
import { choiceCost } from '../../src/dance/choice-cost.ts';
import { seededRandom } from '../../src/random.ts';

describe('what a pulse costs for the choice of times', () => {
  // By hand: 7 ms √(2π · 16) / 29 ms = 2.420.
  test('is ln of how many places its time may be taken for', () => {
    expect(choiceCost(0.007, 16)).toBeCloseTo(Math.log(2.42), 3);
  });

  test('grows by ln 2 with twice the spread, and with four times the strength', () => {
    expect(choiceCost(0.014, 16) - choiceCost(0.007, 16)).toBeCloseTo(Math.LN2, 9);
    expect(choiceCost(0.007, 64) - choiceCost(0.007, 16)).toBeCloseTo(Math.LN2, 9);
  });

  test('is nothing where there is less choice than one place', () => {
    expect(choiceCost(0.001, 2)).toBe(0);
  });

  test('is what the best of all times is too good by: the mean over times drawn, against the best', () => {
    // A pulse of 20 times the noise, its power falling with the square of the time from its middle over 16 ms squared.
    const strength = 20;
    const spreadS = 0.007;
    const oddsAt = (awayS: number) => Math.exp(-strength * (awayS / 0.016) ** 2);
    const random = seededRandom(5);
    const draws = 200_000;
    let sum = 0;
    for (let k = 0; k < draws; k++) sum += oddsAt(spreadS * random.normal());
    expect(Math.abs(-Math.log(sum / draws) - choiceCost(spreadS, strength))).toBeLessThan(0.15);
  });
});
