import { approach } from './levenberg-marquardt.ts';
import { type Linearisation, linearise, type Model, type Points, sumOfSquares } from './linearisation.ts';

/** What least squares found. */
export interface LeastSquaresFit {
  readonly converged: true;
  readonly parameters: readonly number[];
  readonly standardErrors: readonly number[];
  /** Covariance of the parameters, s²·(JᵀJ)⁻¹, row by row. */
  readonly covariance: readonly (readonly number[])[];
  readonly residualSum: number;
  /** s, with n − p in the denominator. */
  readonly residualSd: number;
  readonly degreesOfFreedom: number;
  readonly rSquared: number;
}

/** Least squares found nothing that may be used; there are no numbers to misuse. */
export interface FailedFit {
  readonly converged: false;
  readonly reason: string;
}

// A parameter is then within about a millionth of its own standard error.
const smallestOffset = 1e-6;
// Where points lie on the curve exactly, the offset is 0/0; this share of the responses' length is rounding.
const roundingShare = 1e-12;
// Columns of the (scaled) Jacobian this close to dependent: different parameters give the same curve.
const largestCondition = 1e8;
// From a poor start a bold first step may leap to where the model is flat; a timid one finds the way.
const dampings = [0.01, 1, 100];

/**
 * Nonlinear least squares for any model of one predictor, unweighted.
 *
 * ml-levenberg-marquardt goes from the start to the neighbourhood of the minimum. It has no test of
 * convergence beyond an absolute error, so Gauss–Newton steps with step halving follow, and the fit is
 * accepted only when the relative offset (Bates & Watts 1981, Technometrics 23:179; from memory) is small:
 * what is left of the residuals along the fitted surface is nothing beside what is left across it.
 *
 * @param points predictor x and response y, n each, in any units
 * @param model value and, if known, gradient; without one, central differences stand in
 * @param start p starting values
 * @param from 'near' when the start is already the minimum's neighbour: only Gauss–Newton is then needed
 */
export function fitLeastSquares(
  points: Points,
  model: Model,
  start: readonly number[],
  from: 'near' | 'afar' = 'afar',
): LeastSquaresFit | FailedFit {
  const degreesOfFreedom = points.x.length - start.length;
  if (degreesOfFreedom < 1) {
    return failed(`${points.x.length} points cannot bear ${start.length} parameters and their errors`);
  }
  if (!Number.isFinite(sumOfSquares(points, model, start))) {
    return failed('the model has no value at the starting values');
  }
  const begins =
    from === 'near' ? [start] : dampings.map((damping) => approach(points, model, start, damping));
  const ends = begins.map((begin) => polish(points, model, begin));
  const outcomes = ends.map((end) => judge(points, end, degreesOfFreedom));
  const fits = outcomes.filter((outcome) => outcome.converged);
  if (fits.length === 0) return outcomes[0];
  return fits.reduce((best, fit) => (fit.residualSum < best.residualSum ? fit : best));
}

interface End {
  readonly parameters: readonly number[];
  readonly tangent: Linearisation | undefined;
}

function judge(points: Points, end: End, degreesOfFreedom: number): LeastSquaresFit | FailedFit {
  const { parameters, tangent } = end;
  if (tangent === undefined) return failed('the model has no slope at the values reached');
  if (!(tangent.condition < largestCondition)) {
    return failed('the points cannot tell its parameters apart');
  }
  if (!atMinimum(tangent, points)) return failed('it did not settle on a minimum');
  return describe(points, parameters, tangent, degreesOfFreedom);
}

function describe(
  points: Points,
  parameters: readonly number[],
  tangent: Linearisation,
  degreesOfFreedom: number,
): LeastSquaresFit {
  const { residualSum } = tangent;
  const variance = residualSum / degreesOfFreedom;
  const covariance = tangent.inverseCrossproduct.map((row) => row.map((value) => value * variance));
  const mean = points.y.reduce((sum, value) => sum + value, 0) / points.y.length;
  const total = points.y.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return {
    converged: true,
    parameters,
    standardErrors: covariance.map((row, index) => Math.sqrt(row[index])),
    covariance,
    residualSum,
    residualSd: Math.sqrt(variance),
    degreesOfFreedom,
    rSquared: total > 0 ? 1 - residualSum / total : 0,
  };
}

/** Gauss–Newton with step halving, until the minimum is reached as nearly as rounding allows. */
function polish(points: Points, model: Model, start: readonly number[]): End {
  let parameters = start;
  let tangent = linearise(points, model, parameters);
  for (let iteration = 0; iteration < 200 && tangent !== undefined; iteration++) {
    if (tangent.relativeOffset < smallestOffset / 1000) break;
    const next = stepDown(points, model, parameters, tangent);
    if (next === undefined) break;
    // Near the minimum the sum of squares is all rounding; the offset then says whether a step was worth it.
    const gained = next.tangent.residualSum < tangent.residualSum * (1 - 1e-12);
    if (!gained && !(next.tangent.relativeOffset < tangent.relativeOffset)) break;
    ({ parameters, tangent } = next);
  }
  return { parameters, tangent };
}

function stepDown(points: Points, model: Model, parameters: readonly number[], tangent: Linearisation) {
  for (let share = 1; share > 1e-6; share /= 2) {
    const candidate = parameters.map((value, index) => value + share * tangent.step[index]);
    if (sumOfSquares(points, model, candidate) > tangent.residualSum * (1 + 1e-12)) continue;
    const there = linearise(points, model, candidate);
    if (there !== undefined) return { parameters: candidate, tangent: there };
  }
  return undefined;
}

function atMinimum(tangent: Linearisation, points: Points): boolean {
  const length = Math.sqrt(points.y.reduce((sum, value) => sum + value ** 2, 0));
  return tangent.relativeOffset < smallestOffset || tangent.tangentLength <= roundingShare * length;
}

function failed(reason: string): FailedFit {
  return { converged: false, reason };
}
