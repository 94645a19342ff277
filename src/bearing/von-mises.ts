import { radians } from './angles.ts';
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
 * `resultantOf`, by Newton's method; at most `greatestKappa`.
 */
export function kappaOf(resultantLength: number): number {
  if (resultantLength <= 0) return 0;
  if (resultantLength >= 1 - 1 / (2 * greatestKappa)) return greatestKappa;
  // Exact at both ends; and since I1/I0 is concave, the first step lands below the root and the rest rise to it.
  let kappa = (resultantLength * (2 - resultantLength ** 2)) / (1 - resultantLength ** 2);
  for (let k = 0; k < 50; k++) {
    const length = resultantOf(kappa);
    const slope = 1 - length / kappa - length * length;
    const next = Math.max(kappa + (resultantLength - length) / slope, kappa / 4);
    if (Math.abs(next - kappa) <= 1e-13 * kappa) return next;
    kappa = next;
  }
  return Math.min(kappa, greatestKappa);
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
