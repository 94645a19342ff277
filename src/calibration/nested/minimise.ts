/** A function's value and slopes, or undefined where it has none. */
export type Slopes = (at: Float64Array) => { value: number; gradient: Float64Array } | undefined;

/** Where a function is lowest, as far as was found. */
export interface Minimum {
  readonly at: Float64Array;
  readonly value: number;
  readonly gradient: Float64Array;
  readonly converged: boolean;
}

const mostSteps = 200;
const longestStep = 2;
// Values this near to each other are one value to rounding.
const rounding = 1e-11;

/**
 * Quasi-Newton descent (BFGS; Nocedal & Wright 2006, Numerical Optimization, chapter 6; from memory) with
 * halved steps. Logarithms of variances may run away to nothing without gain; that counts as converged, the
 * slope there being flat.
 *
 * @param start where to begin
 * @returns undefined when the function has no value at the start
 */
export function minimise(slopes: Slopes, start: ArrayLike<number>): Minimum | undefined {
  const size = start.length;
  let at = Float64Array.from(start);
  let here = slopes(at);
  if (here === undefined || !Number.isFinite(here.value)) return undefined;
  let inverse = identity(size);
  for (let step = 0; step < mostSteps; step++) {
    if (flat(here)) return { at, ...here, converged: true };
    const direction = downhill(inverse, here.gradient);
    let next = search(slopes, at, here, direction);
    if (next === undefined && step > 0) {
      // A poor picture of the curvature may have turned uphill: begin it anew from the slope.
      inverse = identity(size);
      next = search(slopes, at, here, downhill(inverse, here.gradient));
    }
    if (next === undefined) return { at, ...here, converged: nearlyFlat(here) };
    inverse = updated(inverse, at, here.gradient, next.at, next.there.gradient);
    at = next.at;
    here = next.there;
  }
  return { at, ...here, converged: nearlyFlat(here) };
}

type Here = { value: number; gradient: Float64Array };

function largest(values: Float64Array): number {
  return values.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
}

const flat = ({ value, gradient }: Here) => largest(gradient) < 1e-8 * (1 + Math.abs(value));
const nearlyFlat = ({ value, gradient }: Here) => largest(gradient) < 1e-5 * (1 + Math.abs(value));

function identity(size: number): Float64Array {
  const matrix = new Float64Array(size * size);
  for (let i = 0; i < size; i++) matrix[i * size + i] = 0.1;
  return matrix;
}

function downhill(inverse: Float64Array, gradient: Float64Array): Float64Array {
  const size = gradient.length;
  const direction = new Float64Array(size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j < size; j++) direction[i] -= inverse[i * size + j] * gradient[j];
  }
  const length = largest(direction);
  return length > longestStep ? direction.map((value) => (value * longestStep) / length) : direction;
}

function search(slopes: Slopes, at: Float64Array, here: Here, direction: Float64Array) {
  const slope = direction.reduce((sum, value, i) => sum + value * here.gradient[i], 0);
  if (!(slope < 0)) return undefined;
  for (let share = 1; share > 1e-10; share /= 2) {
    const next = at.map((value, i) => value + share * direction[i]);
    const there = slopes(next);
    if (there === undefined || !Number.isFinite(there.value)) continue;
    const fall = there.value - here.value;
    if (fall <= 1e-4 * share * slope) return { at: next, there };
    const even = Math.abs(fall) <= rounding * (1 + Math.abs(here.value));
    if (even && largest(there.gradient) < largest(here.gradient)) return { at: next, there };
  }
  return undefined;
}

function updated(
  inverse: Float64Array,
  from: Float64Array,
  fromGradient: Float64Array,
  to: Float64Array,
  toGradient: Float64Array,
): Float64Array {
  const size = from.length;
  const step = to.map((value, i) => value - from[i]);
  const change = toGradient.map((value, i) => value - fromGradient[i]);
  const along = step.reduce((sum, value, i) => sum + value * change[i], 0);
  if (!(along > 1e-14 * largest(step) * largest(change))) return inverse;
  const turned = new Float64Array(size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j < size; j++) turned[i] += inverse[i * size + j] * change[j];
  }
  const bend = change.reduce((sum, value, i) => sum + value * turned[i], 0);
  const result = new Float64Array(size * size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j < size; j++) {
      result[i * size + j] =
        inverse[i * size + j] +
        ((along + bend) * step[i] * step[j]) / (along * along) -
        (turned[i] * step[j] + step[i] * turned[j]) / along;
    }
  }
  return result;
}
