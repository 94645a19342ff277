import studentT from '@stdlib/stats-base-dists-t';
import type { Random } from '../random.ts';
import type { CalibrationDance, Ranged } from './calibration.ts';
import { identifiable, type NestedData, nestedData } from './nested/data.ts';
import { drawSamples } from './nested/draws.ts';
import { fitVariances, type LinearFit } from './nested/fit-variances.ts';
import { type NestedModel, nestedModel } from './nested/likelihood.ts';
import { runSdAt } from './nested/variances.ts';
import { permutationTest } from './permutation.ts';
import { rangedOf } from './ranged.ts';
import { type ShiftByFeeder, shiftByFeeder } from './shift-by-feeder.ts';

/** A dance under a treatment; false is the reference. */
export interface TreatedDance extends CalibrationDance {
  readonly treated: boolean;
}

/** What the treatment did to one bee that danced under it and without it. */
export interface BeeEffect {
  readonly beeId: string;
  readonly treatedDances: number;
  readonly referenceDances: number;
  readonly shiftS: Ranged;
}

/** Mean of the bees' own effects, each counted once. */
export interface OverBees {
  readonly bees: number;
  readonly shiftS: Ranged;
  /** Two-sided, t over bees. */
  readonly pValue: number;
}

/** A treatment against the reference, in one measure (s). */
export interface Comparison {
  readonly shiftS: Ranged;
  /** Two-sided; null where bees and feeders leave nothing to shuffle. */
  readonly pValue: number | null;
  /** What was shuffled for the test. */
  readonly shuffled: 'dances within bees' | 'bees' | 'dances within bees, and bees';
  readonly beeEffects: readonly BeeEffect[];
  readonly overBees: OverBees | null;
  readonly counts: {
    readonly bees: number;
    readonly bothBees: number;
    readonly treatedDances: number;
    readonly referenceDances: number;
  };
  readonly referenceMeanS: number;
  /** Draws of the shift (s). */
  readonly draws: readonly number[];
  /** Feeders at which both were danced for (m). */
  readonly feedersM: readonly number[];
  /** The shift at each of them; null where that cannot be told. */
  readonly byFeeder: ShiftByFeeder | null;
}

/** A comparison, or what was found in place of what is wanted. */
export type ComparisonOutcome =
  | { readonly ok: true; readonly comparison: Comparison }
  | { readonly ok: false; readonly found: string; readonly wanted: string };

/** Level of the intervals (between 0 and 1), draws, and shuffled studies. */
export interface CompareOptions {
  readonly level: number;
  readonly draws: number;
  readonly permutations: number;
}

/**
 * Shift of times under a treatment: each feeder has a mean of its own, and the treatment adds the same at all of
 * them, with bees, dances and runs as nested scatter (restricted maximum likelihood; interval from the
 * posterior's draws, so that what is not known of the variances widens it). Only feeders danced for both with
 * and without the treatment count. Whether the shift is alike at all of them is told beside it.
 *
 * The test shuffles treatments in ways that the null hypothesis makes alike: among the dances of one bee to one
 * feeder where a bee danced under both, and among whole bees where she danced under one alone. It thus rests on
 * as many units as there are, and not on runs.
 */
export function compareTreatment(
  dances: readonly TreatedDance[],
  { level, draws, permutations }: CompareOptions,
  random: Random,
): ComparisonOutcome {
  const shared = sharedFeeders(dances);
  if (shared.length === 0) {
    return {
      ok: false,
      found: 'no feeder danced for both with and without it',
      wanted: 'dances under both to one feeder or more',
    };
  }
  const used = dances.filter(({ distanceM }) => shared.includes(distanceM));
  if (used.length <= shared.length + 1) {
    return {
      ok: false,
      found: `${used.length} dances to the feeders danced for under both`,
      wanted: `at least ${shared.length + 2}`,
    };
  }
  const data = nestedData(used);
  const model = nestedModel(data, identifiable(data));
  const treated = Float64Array.from(data.order, (index) => (used[index].treated ? 1 : 0));
  const places = feederColumns(data);
  const columns = [...places, treated];
  const fit = fitVariances(model, columns, 'reml');
  if (fit === undefined || !fit.converged) {
    return { ok: false, found: 'a comparison that did not settle', wanted: 'more dances, by more bees' };
  }
  const shifts = drawSamples(model, { columns: () => columns, bounds: null }, fit.logs, 0, draws, random).map(
    ({ coefficients }) => coefficients[coefficients.length - 1],
  );
  const test = permutationTest(model, treated, permutations, random);
  const effects = beeEffects(model, used, fit, level);
  return {
    ok: true,
    comparison: {
      shiftS: rangedOf(fit.coefficients[fit.coefficients.length - 1], shifts, level),
      ...test,
      beeEffects: effects,
      overBees: overBees(effects, level),
      counts: countsOf(used, effects.length),
      referenceMeanS: meanOf(used.filter((dance) => !dance.treated).map(({ meanS }) => meanS)),
      draws: shifts,
      feedersM: shared,
      byFeeder: shiftByFeeder(model, places, treated, shared, fit, { level, draws }, random),
    },
  };
}

function sharedFeeders(dances: readonly TreatedDance[]): number[] {
  const at = (wanted: boolean) =>
    new Set(dances.filter(({ treated }) => treated === wanted).map(({ distanceM }) => distanceM));
  const reference = at(false);
  return [...at(true)].filter((feeder) => reference.has(feeder)).sort((left, right) => left - right);
}

/** One column per feeder: 1 for its dances. */
function feederColumns(data: NestedData): Float64Array[] {
  return data.reaches.map((_, place) =>
    Float64Array.from(data.feeder, (feeder) => (feeder === place ? 1 : 0)),
  );
}

function meanOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

function countsOf(dances: readonly TreatedDance[], bothBees: number): Comparison['counts'] {
  const bees = new Set(dances.flatMap(({ beeId }) => (beeId === null ? [] : [beeId]))).size;
  const treatedDances = dances.filter(({ treated }) => treated).length;
  return { bees, bothBees, treatedDances, referenceDances: dances.length - treatedDances };
}

/**
 * Effect of each bee that danced under both: the weighted mean of her dances' deviations from the feeders' means
 * under the treatment less that without it. Her own level cancels; the interval is that of dances and runs.
 */
function beeEffects(
  model: NestedModel,
  dances: readonly TreatedDance[],
  { variances, coefficients }: LinearFit,
  level: number,
): BeeEffect[] {
  const { data } = model;
  const freedom = Math.max(data.dances - coefficients.length - (data.beeStart.length - 2), 1);
  const quantile = studentT.quantile((1 + level) / 2, freedom);
  const effects: BeeEffect[] = [];
  for (let bee = 0; bee + 1 < data.beeStart.length; bee++) {
    const sums = [
      { weight: 0, weighted: 0, count: 0 },
      { weight: 0, weighted: 0, count: 0 },
    ];
    for (let j = data.beeStart[bee]; j < data.beeStart[bee + 1]; j++) {
      const runSd = runSdAt(data.reach[j], data.reaches[0], variances);
      const weight = 1 / (variances.dance + runSd ** 2 / data.count[j]);
      const own = sums[dances[data.order[j]].treated ? 1 : 0];
      own.weight += weight;
      own.weighted += weight * (data.mean[j] - coefficients[data.feeder[j]]);
      own.count++;
    }
    const { beeId } = dances[data.order[data.beeStart[bee]]];
    const [reference, treated] = sums;
    if (beeId === null || reference.count === 0 || treated.count === 0) continue;
    const value = treated.weighted / treated.weight - reference.weighted / reference.weight;
    const half = quantile * Math.sqrt(1 / treated.weight + 1 / reference.weight);
    effects.push({
      beeId,
      treatedDances: treated.count,
      referenceDances: reference.count,
      shiftS: { value, low: value - half, high: value + half },
    });
  }
  return effects;
}

function overBees(effects: readonly BeeEffect[], level: number): OverBees | null {
  const bees = effects.length;
  if (bees < 3) return null;
  const mean = meanOf(effects.map(({ shiftS }) => shiftS.value));
  const variance = effects.reduce((sum, { shiftS }) => sum + (shiftS.value - mean) ** 2, 0) / (bees - 1);
  const error = Math.sqrt(variance / bees);
  const half = studentT.quantile((1 + level) / 2, bees - 1) * error;
  const pValue = error > 0 ? 2 * studentT.cdf(-Math.abs(mean) / error, bees - 1) : mean === 0 ? 1 : 0;
  return { bees, shiftS: { value: mean, low: mean - half, high: mean + half }, pValue };
}
