import normal from '@stdlib/stats-base-dists-normal';
import type { Random } from '../random.ts';
import type { Ranged } from './calibration.ts';
import { drawSamples } from './nested/draws.ts';
import { fitVariances, type LinearFit } from './nested/fit-variances.ts';
import type { NestedModel } from './nested/likelihood.ts';
import { rangedOf } from './ranged.ts';

/** What the treatment did at one feeder, by the dances to it. */
export interface FeederShift {
  readonly feederM: number;
  readonly treatedDances: number;
  readonly referenceDances: number;
  readonly shiftS: Ranged;
  /** Draws of the shift (s). */
  readonly draws: readonly number[];
}

/** Whether the shift changes with distance: a likelihood ratio, on one degree of freedom. */
export interface ChangeWithDistance {
  readonly likelihoodRatio: number;
  readonly pValue: number;
}

/** A treatment's shift at each feeder, and whether it changes with distance. */
export interface ShiftByFeeder {
  readonly feeders: readonly FeederShift[];
  /** null where a fit did not settle. */
  readonly change: ChangeWithDistance | null;
}

/**
 * The model of one shift for all feeders with a shift of its own for each in its place: what the one shift is a mean of.
 *
 * @param places the feeders' columns: 1 for the dances to each
 * @param treated 1 for the dances under the treatment
 * @param feedersM distances of the feeders (m), as their columns
 * @param common the fit of one shift, whose variances are near
 * @returns null for a single feeder, for too few dances, and where the fit did not settle
 */
export function shiftByFeeder(
  model: NestedModel,
  places: readonly Float64Array[],
  treated: Float64Array,
  feedersM: readonly number[],
  common: LinearFit,
  { level, draws }: { readonly level: number; readonly draws: number },
  random: Random,
): ShiftByFeeder | null {
  if (places.length < 2 || treated.length <= 2 * places.length + 1) return null;
  const columns = [...places, ...places.map((place) => place.map((own, j) => own * treated[j]))];
  const fit = fitVariances(model, columns, 'reml', common.logs);
  if (!fit?.converged) return null;
  const samples = drawSamples(model, { columns: () => columns, bounds: null }, fit.logs, 0, draws, random);
  return {
    feeders: places.map((place, k) => {
      const coefficient = places.length + k;
      const shifts = samples.map(({ coefficients }) => coefficients[coefficient]);
      const treatedDances = place.filter((own, j) => own * treated[j] === 1).length;
      return {
        feederM: feedersM[k],
        treatedDances,
        referenceDances: place.filter((own) => own === 1).length - treatedDances,
        shiftS: rangedOf(fit.coefficients[coefficient], shifts, level),
        draws: shifts,
      };
    }),
    change: changeWithDistance(model, places, treated),
  };
}

/** Twice the logarithm of likelihoods, of a shift that goes up or down with distance over one that does not. */
function changeWithDistance(
  model: NestedModel,
  places: readonly Float64Array[],
  treated: Float64Array,
): ChangeWithDistance | null {
  const alike = fitVariances(model, [...places, treated], 'ml');
  const grown = treated.map((one, j) => one * model.data.reach[j]);
  const changing = fitVariances(model, [...places, treated, grown], 'ml');
  if (!alike?.converged || !changing?.converged) return null;
  const likelihoodRatio = Math.max(alike.deviance - changing.deviance, 0);
  // χ² with one degree of freedom is the square of a standard normal.
  return { likelihoodRatio, pValue: 2 * normal.cdf(-Math.sqrt(likelihoodRatio), 0, 1) };
}
