import type { Curve } from './curve.ts';

/**
 * Broken line: a + b·d up to the break, a + b·break + c·(d − break) beyond it; continuous, one break. That the
 * slope falls over long ranges: Kohl & Rutschmann 2021, PeerJ 9:e11187. The break is sought between the second
 * and the last but one feeder, as a straight piece needs two feeders.
 */
export const brokenLine: Curve = {
  name: 'broken-line',
  formula: 'a + b·min(d, e) + c·max(d − e, 0)',
  parameters: [
    { name: 'a', unit: 's' },
    { name: 'b', unit: 's/m' },
    { name: 'c', unit: 's/m' },
    { name: 'e', unit: 'm' },
  ],
  value: (distanceM, parameters) =>
    parameters[0] +
    parameters[1] * Math.min(distanceM, parameters[3]) +
    parameters[2] * Math.max(distanceM - parameters[3], 0),
  slope: (distanceM, [, b, c, breakM]) => (distanceM < breakM ? b : c),
  gradient: (distanceM, [, b, c, breakM]) => [
    1,
    Math.min(distanceM, breakM),
    Math.max(distanceM - breakM, 0),
    distanceM > breakM ? b - c : 0,
  ],
  fault: ([, b, c]) => (b > 0 && c > 0 ? undefined : 'the times do not rise on both sides of a break'),
  columns: 2,
  column: (column, reach, shape) => (column === 0 ? Math.min(reach, shape) : Math.max(reach - shape, 0)),
  shapeBounds: (reaches) => [reaches[1], reaches[reaches.length - 2]],
  logShapePrior: () => 0,
  toParameters: ([a, before, after], shape, farthestM) => [
    a,
    before / farthestM,
    after / farthestM,
    shape * farthestM,
  ],
  levelsOff: false,
  idleShape: null,
};
