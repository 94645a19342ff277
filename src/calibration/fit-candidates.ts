import type { Candidate } from './calibration.ts';
import { type Curve, isSaturated } from './curves/curve.ts';
import { correctedAkaike } from './information-criterion.ts';
import { fitLeastSquares } from './least-squares.ts';
import { type CurveFit, fitCurveMl, fitCurveReml } from './nested/fit-curve.ts';
import type { NestedModel } from './nested/likelihood.ts';
import { logNames } from './nested/variances.ts';
import { whiten } from './nested/whiten.ts';

/** A curve that was tried, and its fit where one is to be had. */
export interface Trial {
  readonly curve: Curve;
  readonly candidate: Candidate;
  readonly ml?: CurveFit;
}

/** Fits one curve by maximum likelihood. */
export function tryCurve(curve: Curve, model: NestedModel, near?: ArrayLike<number>): Trial {
  const { data, components } = model;
  const parameterCount = curve.parameters.length + logNames(components).length;
  const failed = (failure: string): Trial => ({
    curve,
    candidate: {
      curve: curve.name,
      parameterCount,
      logLikelihood: null,
      aicc: null,
      leftOutErrorM: null,
      leftOutErrorS: null,
      failure,
    },
  });
  if (data.reaches.length < curve.parameters.length) {
    return failed(`wants feeders at ${curve.parameters.length} or more distances`);
  }
  const ml = fitCurveMl(model, curve, near);
  if (ml === undefined) return failed('the dances cannot tell its parameters apart');
  if (!ml.fit.converged) return failed('its variances did not settle');
  if (curve.idleShape !== null && ml.atBound === curve.idleShape) {
    return failed('the times do not level off with distance');
  }
  const fault = curve.fault(curve.toParameters(Array.from(ml.fit.coefficients), ml.shape, data.farthestM));
  if (fault !== undefined) return failed(fault);
  const aicc = correctedAkaike(ml.fit.deviance, parameterCount, data.dances);
  return {
    curve,
    ml,
    candidate: {
      curve: curve.name,
      parameterCount,
      logLikelihood: -ml.fit.deviance / 2,
      aicc,
      leftOutErrorM: null,
      leftOutErrorS: null,
      failure: null,
    },
  };
}

/**
 * A model whose criterion is this much above another's has essentially no support beside it (Burnham & Anderson 2002,
 * Model selection and multimodel inference; from memory).
 */
const noSupport = 10;

/**
 * The trial with the least criterion; without one a simpler curve (they come first) goes before. One that has as many
 * parameters as there are distances has no distance left over to check it by, which the criterion, counting dances, does
 * not see: it is taken only where the others have no support beside it, or there is none.
 *
 * @param feeders how many distances the dances are to
 */
export function chooseTrial(trials: readonly Trial[], feeders: number): Fitted | undefined {
  const best = leastCriterion(trials);
  const checked = leastCriterion(trials.filter(({ ml, curve }) => ml && !isSaturated(curve, feeders)));
  if (best === undefined || checked === undefined) return best;
  return criterionOf(best) < criterionOf(checked) - noSupport ? best : checked;
}

type Fitted = Trial & { ml: CurveFit };

const criterionOf = ({ candidate }: Trial) => candidate.aicc ?? Number.POSITIVE_INFINITY;

function leastCriterion(trials: readonly Trial[]): Fitted | undefined {
  let best: Fitted | undefined;
  for (const trial of trials) {
    if (trial.ml === undefined) continue;
    if (best === undefined || criterionOf(trial) < criterionOf(best)) best = { ...trial, ml: trial.ml };
  }
  return best;
}

/** The chosen curve fitted by restricted maximum likelihood. */
export interface FinalFit {
  readonly reml: CurveFit;
  readonly parameters: readonly number[];
  readonly standardErrors: readonly number[];
  readonly covariance: readonly (readonly number[])[];
}

/**
 * Restricted maximum likelihood of the variances, then the curve's parameters by nonlinear least squares on
 * times whitened by those variances, which is generalised least squares: the fitter that is held against
 * certified values has the last word on whether this is a minimum, and gives the standard errors.
 *
 * @returns the fit, or why there is none
 */
export function finishFit(curve: Curve, model: NestedModel, ml: CurveFit): FinalFit | { failure: string } {
  const { data } = model;
  const reml = fitCurveReml(model, curve, ml);
  if (reml === undefined || !reml.fit.converged) return { failure: 'its variances did not settle' };
  const start = curve.toParameters(Array.from(reml.fit.coefficients), reml.shape, data.farthestM);
  const white = whiten(data, reml.fit.variances, curve);
  const fit = fitLeastSquares(white.points, white.model, start, 'near');
  if (fit.converged) {
    const fault = curve.fault(fit.parameters);
    if (fault !== undefined) return { failure: fault };
    // Whitened residuals have variance 1 by construction; their own scatter is not a second estimate of it.
    const variance = fit.residualSd ** 2;
    const covariance = fit.covariance.map((row) => row.map((value) => value / variance));
    return {
      reml,
      parameters: fit.parameters,
      standardErrors: covariance.map((row, i) => Math.sqrt(row[i])),
      covariance,
    };
  }
  const covariance = white.covarianceAt(start);
  // A break right at a feeder is a kink of the likelihood: the best there is, though no slope is nothing there.
  if (covariance === undefined || curve.columns === 1) return { failure: fit.reason };
  return {
    reml,
    parameters: start,
    standardErrors: covariance.map((row, i) => Math.sqrt(row[i])),
    covariance,
  };
}
