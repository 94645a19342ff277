import { quantile } from 'd3-array';
import type { Ranged } from './calibration.ts';

/** A figure with the interval of equal tails of its draws. */
export function rangedOf(value: number, draws: readonly number[], level: number): Ranged {
  return {
    value,
    low: quantile(draws, (1 - level) / 2)!,
    high: quantile(draws, (1 + level) / 2)!,
  };
}
