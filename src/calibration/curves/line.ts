import type { Curve } from './curve.ts';

/** Straight line a + b·d: every metre adds the same time. */
export const line: Curve = {
  name: 'line',
  formula: 'a + b·d',
  parameters: [
    { name: 'a', unit: 's' },
    { name: 'b', unit: 's/m' },
  ],
  value: (distanceM, parameters) => parameters[0] + parameters[1] * distanceM,
  slope: (_, [, b]) => b,
  gradient: (distanceM) => [1, distanceM],
  fault: ([, b]) => (b > 0 ? undefined : 'the times do not rise with distance'),
  columns: 1,
  column: (_, reach) => reach,
  shapeBounds: () => null,
  logShapePrior: () => 0,
  toParameters: ([a, rise], _, farthestM) => [a, rise / farthestM],
  levelsOff: false,
  idleShape: null,
};
