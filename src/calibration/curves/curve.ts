/** One parameter of a curve, as it is shown and written. Every response is in seconds, every distance in metres. */
export interface CurveParameter {
  readonly name: string;
  readonly unit: string;
}

/** Lowest and highest value that a curve's shape may take. */
export type ShapeBounds = readonly [lowest: number, highest: number];

/**
 * A form that the time of a waggle run, or of a whole circuit, may take on distance.
 *
 * Every form is, for a given shape (at most one number), a sum of an intercept and coefficients times
 * columns. Fits use this form on the reach u, distance over the farthest feeder's, so that no fit depends on
 * the unit of distance; `value` and the rest use the parameters that people read, in metres and seconds.
 */
export interface Curve {
  readonly name: string;
  readonly formula: string;
  readonly parameters: readonly CurveParameter[];
  /** Response in seconds at a distance of 0 m or more. */
  value(distanceM: number, parameters: readonly number[]): number;
  /** Derivative of `value` by distance (s/m). */
  slope(distanceM: number, parameters: readonly number[]): number;
  /** Derivatives of `value` by each parameter. */
  gradient(distanceM: number, parameters: readonly number[]): number[];
  /** Why a curve with these parameters cannot be read backwards, or undefined when it can. */
  fault(parameters: readonly number[]): string | undefined;
  /** How many coefficients stand beside the intercept. */
  readonly columns: 1 | 2;
  /** Column `column` (from 0, the intercept left out) at reach u. */
  column(column: number, reach: number, shape: number): number;
  /**
   * Bounds of the shape for feeders at these reaches, or null when the curve has no shape.
   *
   * @param reaches distinct, rising, the last of them 1
   */
  shapeBounds(reaches: readonly number[]): ShapeBounds | null;
  /** Logarithm of the prior density of the shape, up to a constant. */
  logShapePrior(shape: number): number;
  /** Readable parameters of an intercept, coefficients and shape on the reach. */
  toParameters(coefficients: readonly number[], shape: number, farthestM: number): number[];
  /** Whether its times never go beyond some ceiling. */
  readonly levelsOff: boolean;
  /** Where in its bounds a shape is when the curve says no more than a simpler one: 'lowest', or nowhere. */
  readonly idleShape: 'lowest' | null;
}

/** Whether a curve has as many parameters as there are distances: it goes through their means, and none checks it. */
export function isSaturated({ parameters }: Pick<Curve, 'parameters'>, feeders: number): boolean {
  return parameters.length >= feeders;
}
