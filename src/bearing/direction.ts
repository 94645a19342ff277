import studentT from '@stdlib/stats-base-dists-t';
import { within360 } from './angles.ts';

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
const mostTurns = 3;
const negligible = 1e-12;

/** How many whole turns the tails reach round the circle, at most three. */
function turnsOf(scaleDeg: number, freedom: number): number {
  return studentT.cdf(-180 / scaleDeg, freedom) < negligible ? 0 : mostTurns;
}

/** Probability that the goal lies within a given angle (0 to 180 degrees) of the mean, to either side. */
export function probabilityWithin({ scaleDeg, degreesOfFreedom }: Direction, angleDeg: number): number {
  const freedom = Math.min(degreesOfFreedom, manyDegrees);
  const turns = turnsOf(scaleDeg, freedom);
  const below = (x: number) => studentT.cdf(x / scaleDeg, freedom);
  const outermost = 180 + 360 * turns;
  let within = below(angleDeg) - below(-angleDeg);
  for (let turn = 1; turn <= turns; turn++) {
    within += 2 * (below(360 * turn + angleDeg) - below(360 * turn - angleDeg));
  }
  return within / (below(outermost) - below(-outermost));
}

/** Half width (degrees) of the interval about the mean that holds a given probability: by bisection. */
export function halfWidthDeg(direction: Direction, level: number): number {
  let low = 0;
  let high = 180;
  for (let k = 0; k < 40; k++) {
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
  for (let k = 0; k < 40; k++) {
    const middle = (low + high) / 2;
    const direction = { meanDeg, scaleDeg: Math.exp(middle), degreesOfFreedom };
    if (probabilityWithin(direction, halfWidth) > level) low = middle;
    else high = middle;
  }
  return { meanDeg: within360(meanDeg), scaleDeg: Math.exp((low + high) / 2), degreesOfFreedom };
}

// Steps of the table: enough within the scale for straight lines to do, and few enough to be made for every dance.
const stepsInScale = 25;
const [fewestSteps, mostSteps] = [720, 18_000];

/**
 * Density of a direction per radian, as a function of the bearing in degrees, −360 to 360; straight between the points of a
 * table, for maps ask for it very often.
 */
export function directionDensity(direction: Direction): (bearingDeg: number) => number {
  const { scaleDeg } = direction;
  const mean = within360(direction.meanDeg);
  const freedom = Math.min(direction.degreesOfFreedom, manyDegrees);
  const turns = turnsOf(scaleDeg, freedom);
  const steps = Math.min(Math.max(Math.ceil((180 * stepsInScale) / scaleDeg), fewestSteps), mostSteps);
  const table = Float64Array.from({ length: steps + 2 }, (_, k) => {
    let sum = 0;
    for (let turn = -turns; turn <= turns; turn++) {
      const score = ((180 * k) / steps + 360 * turn) / scaleDeg;
      sum += (1 + score ** 2 / freedom) ** (-(freedom + 1) / 2);
    }
    return sum;
  });
  let integral = 0;
  for (let k = 0; k < steps; k++) integral += table[k] + table[k + 1];
  integral *= Math.PI / steps;
  return (bearingDeg) => {
    // Spelled out rather than by turnDeg, whose remainders are slow: a map asks a hundred thousand times.
    let apart = Math.abs(bearingDeg - mean);
    if (apart >= 360) apart -= 360;
    const at = ((apart > 180 ? 360 - apart : apart) * steps) / 180;
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
