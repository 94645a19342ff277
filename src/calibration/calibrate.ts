import { spread } from './components.ts';
import type { Curve } from './curves/curve.ts';
import { curveNamed, curves } from './curves/registry.ts';
import { correctedAkaike } from './information-criterion.ts';
import { fitLeastSquares, type LeastSquaresFit } from './least-squares.ts';
import type { RunSummary } from './runs.ts';
import { warningsOf } from './warnings.ts';

/** A dance to a feeder at a known distance, its used runs summed up. */
export interface CalibrationDance extends RunSummary {
  readonly danceId: string;
  /** null where the dancer was not marked. */
  readonly beeId: string | null;
  readonly distanceM: number;
}

/** One curve that was tried. */
export interface Candidate {
  readonly curve: string;
  readonly parameterCount: number;
  readonly residualSum: number | null;
  /** null where the fit failed or the dances are too few for the criterion. */
  readonly aicc: number | null;
  /** Why the curve cannot be used, or null. */
  readonly failure: string | null;
}

/** A fitted curve of time on distance, with all that an estimate of a distance needs. */
export interface Calibration {
  readonly curve: string;
  readonly parameters: readonly number[];
  readonly standardErrors: readonly number[];
  readonly covariance: readonly (readonly number[])[];
  /** SD of dance means about the curve (s), with n − p in the denominator. */
  readonly residualSdS: number;
  readonly degreesOfFreedom: number;
  readonly rSquared: number;
  /** SD between dances (s) beyond what their runs' own scatter explains. */
  readonly betweenDanceSdS: number;
  /** SD of runs within a dance (s); null where no dance has two used runs. */
  readonly runSdS: number | null;
  readonly nearestFeederM: number;
  readonly farthestFeederM: number;
  readonly counts: Counts;
  readonly candidates: readonly Candidate[];
  readonly warnings: readonly string[];
}

export interface Counts {
  readonly feeders: number;
  /** Marked bees. */
  readonly bees: number;
  readonly dances: number;
  /** Used runs. */
  readonly runs: number;
}

export type CalibrationOutcome =
  | { readonly ok: true; readonly calibration: Calibration }
  /** What was found that cannot be calibrated on, and what is wanted instead. */
  | { readonly ok: false; readonly found: string; readonly wanted: string };

/**
 * Fits curves of time (s) on distance (m) to the means of dances by least squares and takes the asked-for
 * one, or for 'auto' the one with the smallest corrected Akaike criterion (the fewest parameters where the
 * dances are too few for it).
 *
 * Each dance counts once, whatever its number of runs: the runs of a dance are not independent.
 *
 * @param dances any order; the order does not matter
 * @param wanted a curve's name or 'auto'
 */
export function calibrate(dances: readonly CalibrationDance[], wanted: string): CalibrationOutcome {
  const feeders = new Set(dances.map((dance) => dance.distanceM)).size;
  const tried = wanted === 'auto' ? curves : curves.filter((curve) => curve === curveNamed(wanted));
  const fewest = Math.min(...tried.map((curve) => curve.parameters.length));
  const named = wanted === 'auto' ? 'a curve' : `the ${wanted} curve`;
  if (feeders < fewest) {
    const distances = feeders === 1 ? `one distance only (${dances[0].distanceM} m)` : `${feeders} distances`;
    return { ok: false, found: distances, wanted: `feeders at ${fewest} or more distances for ${named}` };
  }
  if (dances.length <= fewest) {
    const found = `${dances.length} dances to known distances`;
    return { ok: false, found, wanted: `at least ${fewest + 1} dances for ${named}` };
  }
  const trials = tried.map((curve) => tryCurve(curve, dances, feeders));
  const best = choose(trials);
  if (best === undefined) {
    const reasons = trials.map(({ candidate }) =>
      trials.length === 1 ? candidate.failure : `${candidate.curve}: ${candidate.failure}`,
    );
    const found = `dances that ${named} cannot be fitted to (${reasons.join('; ')})`;
    return { ok: false, found, wanted: 'times that rise with distance, or another curve' };
  }
  const { curve, fit } = best;
  const candidates = trials.map(({ candidate }) => candidate);
  return { ok: true, calibration: describe(dances, curve, fit, candidates, feeders) };
}

interface Trial {
  readonly curve: Curve;
  readonly candidate: Candidate;
  readonly fit?: LeastSquaresFit;
}

function tryCurve(curve: Curve, dances: readonly CalibrationDance[], feeders: number): Trial {
  const distancesM = dances.map((dance) => dance.distanceM);
  const responsesS = dances.map((dance) => dance.meanS);
  const parameterCount = curve.parameters.length;
  const failed = (failure: string): Trial => ({
    curve,
    candidate: { curve: curve.name, parameterCount, residualSum: null, aicc: null, failure },
  });
  if (feeders < parameterCount) return failed(`wants feeders at ${parameterCount} or more distances`);
  const start = curve.start({ distancesM, responsesS });
  const fit = fitLeastSquares({ x: distancesM, y: responsesS }, curve, start);
  if (!fit.converged) return failed(fit.reason);
  const fault = curve.fault(fit.parameters);
  if (fault !== undefined) return failed(fault);
  const aicc = correctedAkaike(fit.residualSum, responsesS, parameterCount);
  const { residualSum } = fit;
  return { curve, fit, candidate: { curve: curve.name, parameterCount, residualSum, aicc, failure: null } };
}

function choose(trials: readonly Trial[]): { curve: Curve; fit: LeastSquaresFit } | undefined {
  let best: { curve: Curve; fit: LeastSquaresFit; aicc: number } | undefined;
  for (const { curve, fit, candidate } of trials) {
    if (fit === undefined) continue;
    // Without a criterion a curve is taken only when no simpler one (they come first) is to be had.
    const aicc = candidate.aicc ?? Number.POSITIVE_INFINITY;
    if (best === undefined || aicc < best.aicc) best = { curve, fit, aicc };
  }
  return best;
}

function describe(
  dances: readonly CalibrationDance[],
  curve: Curve,
  fit: LeastSquaresFit,
  candidates: readonly Candidate[],
  feeders: number,
): Calibration {
  const distancesM = dances.map((dance) => dance.distanceM);
  const marked = dances.flatMap((dance) => (dance.beeId === null ? [] : [dance.beeId]));
  const withoutWarnings = {
    curve: curve.name,
    parameters: fit.parameters,
    standardErrors: fit.standardErrors,
    covariance: fit.covariance,
    residualSdS: fit.residualSd,
    degreesOfFreedom: fit.degreesOfFreedom,
    rSquared: fit.rSquared,
    ...spread(dances, fit.residualSd),
    nearestFeederM: Math.min(...distancesM),
    farthestFeederM: Math.max(...distancesM),
    counts: {
      feeders,
      bees: new Set(marked).size,
      dances: dances.length,
      runs: dances.reduce((sum, dance) => sum + dance.usedRuns, 0),
    },
    candidates,
  };
  return { ...withoutWarnings, warnings: warningsOf(withoutWarnings, dances) };
}
