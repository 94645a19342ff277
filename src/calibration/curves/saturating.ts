import type { Curve } from './curve.ts';

/**
 * Saturating curve a + c·(1 − exp(−d/L)): every further metre adds less time than the one before, up to the
 * ceiling a + c. That the slope falls over long ranges: Kohl & Rutschmann 2021, PeerJ 9:e11187.
 */
export const saturating: Curve = {
  name: 'saturating',
  formula: 'a + c·(1 − exp(−d/L))',
  parameters: [
    { name: 'a', unit: 's' },
    { name: 'c', unit: 's' },
    { name: 'L', unit: 'm' },
  ],
  value: (distanceM, parameters) => parameters[0] + parameters[1] * rise(distanceM, parameters[2]),
  slope: (distanceM, [, c, lengthM]) => (c / lengthM) * Math.exp(-distanceM / lengthM),
  gradient: (distanceM, [, c, lengthM]) => [
    1,
    rise(distanceM, lengthM),
    (-c * distanceM * Math.exp(-distanceM / lengthM)) / lengthM ** 2,
  ],
  fault: ([, c, lengthM]) =>
    c > 0 && lengthM > 0 ? undefined : 'the times do not level off with distance, or do not rise at all',
  columns: 1,
  // Risen to 1 at the farthest feeder, and a straight line where the shape (farthest feeder over L) is nothing.
  column: (_, reach, shape) =>
    shape < smallestShape ? reach : Math.expm1(-shape * reach) / Math.expm1(-shape),
  shapeBounds: () => [smallestShape, 20],
  // Flat in exp(−shape), the slope at the farthest feeder over that at the hive.
  logShapePrior: (shape) => -shape,
  toParameters: ([a, rise], shape, farthestM) => [a, -rise / Math.expm1(-shape), farthestM / shape],
  levelsOff: true,
  idleShape: 'lowest',
};

// Below this the curve bends by less than a ten-thousandth of its rise.
const smallestShape = 1e-3;

// 1 − exp(−d/L), exact also where d is much smaller than L.
function rise(distanceM: number, lengthM: number): number {
  return -Math.expm1(-distanceM / lengthM);
}
