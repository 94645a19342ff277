import type { Curve, CurvePoints } from './curve.ts';
import { straightLine } from './straight-line.ts';

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
  direction: 'rising',
  value: (distanceM, [a, c, lengthM]) => a + c * rise(distanceM, lengthM),
  gradient: (distanceM, [, c, lengthM]) => [
    1,
    rise(distanceM, lengthM),
    (-c * distanceM * Math.exp(-distanceM / lengthM)) / lengthM ** 2,
  ],
  start: bestOnGrid,
  fault: ([, c, lengthM]) =>
    c > 0 && lengthM > 0 ? undefined : 'the times do not level off with distance, or do not rise at all',
};

// 1 − exp(−d/L), exact also where d is much smaller than L.
function rise(distanceM: number, lengthM: number): number {
  return -Math.expm1(-distanceM / lengthM);
}

/** For a given L the curve is a straight line in `rise`; the best of a grid of L relative to the distances. */
function bestOnGrid({ distancesM, responsesS }: CurvePoints): number[] {
  const farthestM = Math.max(...distancesM);
  let best = { parameters: [0, 0, farthestM], residualSum: Number.POSITIVE_INFINITY };
  for (let step = -8; step <= 8; step++) {
    const lengthM = farthestM * 2 ** (step / 2);
    const risen = distancesM.map((distanceM) => rise(distanceM, lengthM));
    const { intercept, slope, residualSum } = straightLine(risen, responsesS);
    if (residualSum < best.residualSum) best = { parameters: [intercept, slope, lengthM], residualSum };
  }
  return best.parameters;
}
