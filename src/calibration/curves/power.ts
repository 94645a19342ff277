import type { Curve } from './curve.ts';

const kilometreM = 1000;

/** Power a + b·(d/km)^c: b is the time that the first kilometre adds. */
export const power: Curve = {
  name: 'power',
  formula: 'a + b·(d/1000)^c',
  parameters: [
    { name: 'a', unit: 's' },
    { name: 'b', unit: 's' },
    { name: 'c', unit: '' },
  ],
  value: (distanceM, parameters) => parameters[0] + parameters[1] * (distanceM / kilometreM) ** parameters[2],
  slope: (distanceM, [, b, c]) => (b * c * (distanceM / kilometreM) ** (c - 1)) / kilometreM,
  gradient: (distanceM, [, b, c]) => {
    const risen = (distanceM / kilometreM) ** c;
    return [1, risen, distanceM > 0 ? b * risen * Math.log(distanceM / kilometreM) : 0];
  },
  fault: ([, b, c]) => (b > 0 && c > 0 ? undefined : 'the times do not rise with distance'),
  columns: 1,
  column: (_, reach, shape) => reach ** shape,
  shapeBounds: () => [0.1, 3],
  logShapePrior: () => 0,
  toParameters: ([a, rise], shape, farthestM) => [a, rise * (kilometreM / farthestM) ** shape, shape],
  levelsOff: false,
  idleShape: null,
};
