import studentT from '@stdlib/stats-base-dists-t';
import { turnDeg, within360 } from './angles.ts';

/**
 * What is known of the direction of a goal: Student's t distribution wrapped around the circle. With many
 * degrees of freedom it is the wrapped normal, which a von Mises distribution of the same mean resultant length
 * hardly differs from; with few its tails carry the doubt about the scatter itself.
 */
export interface Direction {
  /** Degrees, 0 to 360. */
  readonly meanDeg: number;
  /** Scale of the t distribution, degrees, > 0. */
  readonly scaleDeg: number;
  /** > 0; may be infinite. */
  readonly degreesOfFreedom: number;
}

// Beyond a million degrees of freedom Student's t is normal to every digit shown.
const manyDegrees = 1e6;
const turns = [-3, -2, -1, 0, 1, 2, 3].map((turn) => 360 * turn);

/** Probability that the goal lies within a given angle (0 to 180 degrees) of the mean, to either side. */
export function probabilityWithin({ scaleDeg, degreesOfFreedom }: Direction, angleDeg: number): number {
  const freedom = Math.min(degreesOfFreedom, manyDegrees);
  const below = (x: number) => studentT.cdf(x / scaleDeg, freedom);
  const between = (width: number) =>
    turns.reduce((sum, turn) => sum + below(turn + width) - below(turn - width), 0);
  return between(angleDeg) / between(180);
}

/** Half width (degrees) of the interval about the mean that holds a given probability: by bisection. */
export function halfWidthDeg(direction: Direction, level: number): number {
  let low = 0;
  let high = 180;
  for (let k = 0; k < 50; k++) {
    const middle = (low + high) / 2;
    if (probabilityWithin(direction, middle) < level) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/**
 * The direction whose interval at a level has a given half width: how an interval in a table is read back. An
 * interval as wide as that of no knowledge at all gives a scale of a whole turn, which is as good as none.
 */
export function directionOfInterval(
  meanDeg: number,
  halfWidth: number,
  level: number,
  degreesOfFreedom: number,
): Direction {
  let low = Math.log(1e-3);
  let high = Math.log(360);
  for (let k = 0; k < 50; k++) {
    const middle = (low + high) / 2;
    const direction = { meanDeg, scaleDeg: Math.exp(middle), degreesOfFreedom };
    if (probabilityWithin(direction, halfWidth) > level) low = middle;
    else high = middle;
  }
  return { meanDeg: within360(meanDeg), scaleDeg: Math.exp((low + high) / 2), degreesOfFreedom };
}

const tableStepDeg = 0.02;
const tableCount = Math.round(180 / tableStepDeg);

/**
 * Density of a direction per radian, as a function of the bearing in degrees; straight between the points of a
 * table, for maps ask for it very often.
 */
export function directionDensity(direction: Direction): (bearingDeg: number) => number {
  const { meanDeg, scaleDeg } = direction;
  const freedom = Math.min(direction.degreesOfFreedom, manyDegrees);
  const table = Float64Array.from({ length: tableCount + 2 }, (_, k) =>
    turns.reduce(
      (sum, turn) =>
        sum + (1 + ((k * tableStepDeg + turn) / scaleDeg) ** 2 / freedom) ** (-(freedom + 1) / 2),
      0,
    ),
  );
  let integral = 0;
  for (let k = 0; k < tableCount; k++) integral += table[k] + table[k + 1];
  integral *= (tableStepDeg * Math.PI) / 180;
  return (bearingDeg) => {
    const at = Math.abs(turnDeg(meanDeg, bearingDeg)) / tableStepDeg;
    const k = Math.floor(at);
    return (table[k] + (table[k + 1] - table[k]) * (at - k)) / integral;
  };
}

/** A part of a variance, with how well it is known. */
export interface VariancePart {
  readonly variance: number;
  readonly degreesOfFreedom: number;
}

/** Sum of independent parts of a variance, with the degrees of freedom of Satterthwaite 1946, Biometrics Bull 2:110. */
export function sumOfVariances(parts: readonly VariancePart[]): VariancePart {
  const variance = parts.reduce((sum, part) => sum + part.variance, 0);
  const doubt = parts.reduce((sum, part) => sum + part.variance ** 2 / part.degreesOfFreedom, 0);
  return { variance, degreesOfFreedom: doubt === 0 ? Number.POSITIVE_INFINITY : variance ** 2 / doubt };
}
