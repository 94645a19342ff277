import type { Curve } from './curve.ts';
import { straightLine } from './straight-line.ts';

/** Straight line a + b·d: every metre adds the same time. */
export const line: Curve = {
  name: 'line',
  formula: 'a + b·d',
  parameters: [
    { name: 'a', unit: 's' },
    { name: 'b', unit: 's/m' },
  ],
  direction: 'rising',
  value: (distanceM, [a, b]) => a + b * distanceM,
  gradient: (distanceM) => [1, distanceM],
  start: ({ distancesM, responsesS }) => {
    const { intercept, slope } = straightLine(distancesM, responsesS);
    return [intercept, slope];
  },
  fault: ([, b]) => (b > 0 ? undefined : 'the times do not rise with distance'),
};
