import { seededRandom } from '../random.ts';
import type { Calibration, CalibrationDance, CalibrationOutcome, Candidate } from './calibration.ts';
import { curveNamed, curves } from './curves/registry.ts';
import { defaultDraws, defaultSeed } from './defaults.ts';
import { chooseTrial, type FinalFit, finishFit, type Trial, tryCurve } from './fit-candidates.ts';
import { leaveOneOut, rootMeanSquare } from './leave-one-out.ts';
import { identifiable, nestedData } from './nested/data.ts';
import { type Draw, drawCurves } from './nested/draws.ts';
import { type NestedModel, nestedModel } from './nested/likelihood.ts';
import { scatterOf, sharesOf } from './shares.ts';
import { warningsOf } from './warnings.ts';

/** How a calibration is carried out. */
export interface CalibrateOptions {
  /** Seed of the draws. */
  readonly seed?: number;
  readonly draws?: number;
  /** false saves the time of refitting every curve without each feeder. */
  readonly leaveOut?: boolean;
}

/**
 * Fits curves of time (s) on distance (m), with bees, dances and runs as nested sources of scatter, and takes
 * the asked-for one, or for 'auto' the one with the smallest corrected Akaike criterion (the simplest where the
 * dances are too few for it; see `chooseTrial` for one with as many parameters as distances). Curves are compared by maximum likelihood; the one taken is then fitted by
 * restricted maximum likelihood, and its posterior drawn from.
 *
 * @param dances any order
 * @param wanted a curve's name or 'auto'
 */
export function calibrate(
  dances: readonly CalibrationDance[],
  wanted: string,
  { seed = defaultSeed, draws = defaultDraws, leaveOut = true }: CalibrateOptions = {},
): CalibrationOutcome {
  const feeders = new Set(dances.map((dance) => dance.distanceM)).size;
  const tried = wanted === 'auto' ? curves : curves.filter((curve) => curve === curveNamed(wanted));
  const fewest = Math.min(...tried.map((curve) => curve.parameters.length));
  const named = wanted === 'auto' ? 'a curve' : `the ${wanted} curve`;
  if (feeders < fewest) {
    const distances = feeders === 1 ? `one distance only (${dances[0].distanceM} m)` : `${feeders} distances`;
    return { ok: false, found: distances, wanted: `feeders at ${fewest} or more distances for ${named}` };
  }
  if (dances.length <= fewest) {
    const found = `${dances.length} dance${dances.length === 1 ? '' : 's'} to known distances`;
    return { ok: false, found, wanted: `at least ${fewest + 1} dances for ${named}` };
  }
  const data = nestedData(dances);
  const model = nestedModel(data, identifiable(data));
  const trials: Trial[] = [];
  for (const curve of tried)
    trials.push(tryCurve(curve, model, trials.findLast(({ ml }) => ml)?.ml?.fit.logs));
  return settle(dances, model, trials, named, { seed, draws, leaveOut });
}

/** Takes the best trial that can be carried to its end; one that cannot is set aside with its reason. */
function settle(
  dances: readonly CalibrationDance[],
  model: NestedModel,
  trials: Trial[],
  named: string,
  options: Required<CalibrateOptions>,
): CalibrationOutcome {
  for (;;) {
    const best = chooseTrial(trials, model.data.reaches.length);
    if (best === undefined) {
      const reasons = trials.map(({ candidate }) =>
        trials.length === 1 ? candidate.failure : `${candidate.curve}: ${candidate.failure}`,
      );
      const found = `dances that ${named} cannot be fitted to (${reasons.join('; ')})`;
      return { ok: false, found, wanted: 'times that rise with distance, or another curve' };
    }
    const final = finishFit(best.curve, model, best.ml);
    const drawn =
      'failure' in final
        ? []
        : drawCurves(model, best.curve, final.reml, options.draws, seededRandom(options.seed));
    if (!('failure' in final) && drawn.length === options.draws) {
      return { ok: true, calibration: describe(dances, model, best, final, drawn, trials, options) };
    }
    const failure =
      'failure' in final ? final.failure : 'hardly any curve near the best one rises with distance';
    const place = trials.findIndex(({ curve }) => curve === best.curve);
    trials[place] = {
      curve: best.curve,
      candidate: { ...best.candidate, logLikelihood: null, aicc: null, failure },
    };
  }
}

function describe(
  dances: readonly CalibrationDance[],
  model: NestedModel,
  { curve }: Trial,
  { reml, parameters, standardErrors, covariance }: FinalFit,
  draws: readonly Draw[],
  trials: readonly Trial[],
  { seed, leaveOut }: Required<CalibrateOptions>,
): Calibration {
  const distancesM = dances.map((dance) => dance.distanceM);
  const marked = dances.flatMap((dance) => (dance.beeId === null ? [] : [dance.beeId]));
  const misses = trials.map((trial) => (leaveOut ? leaveOneOut(dances, trial) : []));
  const candidates = trials.map(
    ({ candidate }, i): Candidate => ({
      ...candidate,
      leftOutErrorM: rootMeanSquare(misses[i].map(({ errorM }) => errorM)),
      leftOutErrorS: rootMeanSquare(misses[i].map(({ errorS }) => errorS)),
    }),
  );
  const withoutWarnings = {
    curve: curve.name,
    parameters,
    standardErrors,
    covariance,
    components: model.components,
    scatter: scatterOf(model.components, reml.fit.variances, draws),
    ...sharesOf(model.data, curve, reml),
    restrictedLogLikelihood: -reml.fit.deviance / 2,
    nearestFeederM: distancesM.reduce((least, value) => Math.min(least, value)),
    farthestFeederM: model.data.farthestM,
    counts: {
      feeders: model.data.reaches.length,
      bees: new Set(marked).size,
      dances: dances.length,
      runs: model.data.runs,
    },
    candidates,
    leaveOneOut: misses[trials.findIndex((trial) => trial.curve === curve)],
    seed,
    draws,
    dances,
  };
  return { ...withoutWarnings, warnings: warningsOf(withoutWarnings, dances) };
}
