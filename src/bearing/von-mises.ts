import type { Random } from '../random.ts';
import { degrees, radians, within360 } from './angles.ts';
import { scaledBesselI } from './bessel.ts';

/** Mean resultant length of a von Mises distribution: I1(κ)/I0(κ). */
export function resultantOf(kappa: number): number {
  const { order0, order1 } = scaledBesselI(kappa);
  return order1 / order0;
}

/** Concentrations beyond this (a spread under 0.06°) are told apart by no reading of angles. */
export const greatestKappa = 1e6;

/**
 * Concentration κ of a von Mises distribution with a given mean resultant length: the inverse of
 * `resultantOf`, by bisection; at most `greatestKappa`.
 */
export function kappaOf(resultantLength: number): number {
  if (resultantLength <= 0) return 0;
  let low = -20;
  let high = Math.log(greatestKappa);
  if (resultantOf(greatestKappa) <= resultantLength) return greatestKappa;
  for (let k = 0; k < 60; k++) {
    const middle = (low + high) / 2;
    if (resultantOf(Math.exp(middle)) < resultantLength) low = middle;
    else high = middle;
  }
  return Math.exp((low + high) / 2);
}

// Best & Fisher correct up to this many.
const smallSample = 15;

/**
 * Concentration κ estimated from a sample of directions: maximum likelihood and, up to 15 directions, corrected
 * for its bias. Best & Fisher 1981, Commun Stat Simul Comput 10:493; Fisher 1993, Statistical Analysis of
 * Circular Data, p. 88.
 *
 * @param resultantLength mean resultant length of the sample
 * @returns null for fewer than two directions, whose spread is not known
 */
export function estimateKappa(resultantLength: number, count: number): number | null {
  if (count < 2) return null;
  const kappa = kappaOf(resultantLength);
  if (count > smallSample) return kappa;
  if (kappa < 2) return kappa === 0 ? 0 : Math.max(kappa - 2 / (count * kappa), 0);
  return ((count - 1) ** 3 * kappa) / (count ** 3 + count);
}

/** Concentration κ with the same mean resultant length as a wrapped normal distribution of that SD (degrees). */
export function kappaOfSd(sdDeg: number): number {
  return kappaOf(Math.exp(-(radians(sdDeg) ** 2) / 2));
}

/**
 * A direction drawn from a von Mises distribution, degrees from 0 to 360.
 * Best & Fisher 1979, Applied Statistics 28:152.
 */
export function drawVonMises(random: Random, meanDeg: number, kappa: number): number {
  if (kappa < 1e-9) return random.between(0, 360);
  const a = 1 + Math.sqrt(1 + 4 * kappa * kappa);
  const b = (a - Math.sqrt(2 * a)) / (2 * kappa);
  const r = (1 + b * b) / (2 * b);
  for (;;) {
    const z = Math.cos(Math.PI * random.uniform());
    const f = (1 + r * z) / (r + z);
    const c = kappa * (r - f);
    const u = 1 - random.uniform();
    if (c * (2 - c) > u || Math.log(c / u) + 1 >= c) {
      const angle = degrees(Math.acos(Math.min(Math.max(f, -1), 1)));
      return within360(meanDeg + (random.uniform() < 0.5 ? -angle : angle));
    }
  }
}
