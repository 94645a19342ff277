import { quantile } from 'd3-array';
import type { Random } from '../random.ts';
import { timeBeyond } from './beyond.ts';
import type { Calibration, Ranged } from './calibration.ts';
import { curveNamed } from './curves/registry.ts';
import type { Variances } from './nested/variances.ts';
import { runSdAt } from './nested/variances.ts';
import {
  addPairs,
  emptyPair,
  invertPair,
  leftOver,
  type Pair,
  type PairMatrix,
  pairCovariance,
  pairDeterminant,
  pairForm,
  timesPair,
} from './pair.ts';

/** Used runs of a dance that have both a duration and a circuit time. */
export interface PairedRuns {
  readonly danceId: string;
  readonly paired: number;
  /** Sums of squares and products of both about their means over these runs (s²). */
  readonly squares: PairMatrix;
}

/** How duration and circuit time go together, beyond both rising with distance. */
export interface Correlations {
  /** Of runs within a dance. A circuit holds its run, so this is far from nothing. */
  readonly runs: number;
  readonly bees: Ranged;
  readonly dances: Ranged;
  /** One [bees, dances] for each draw. */
  readonly draws: readonly Pair[];
  /** Which draw of the tempo goes with each draw of the duration. */
  readonly tempoDraws: readonly number[];
  /** Number of paired runs of each dance that has any. */
  readonly paired: readonly (readonly [danceId: string, count: number])[];
}

/** A dance with one measure or both. */
export interface JointDance {
  readonly beeId: string | null;
  readonly duration: { readonly meanS: number; readonly usedRuns: number } | null;
  readonly tempo: { readonly meanS: number; readonly usedRuns: number } | null;
  readonly paired: number;
}

/** A calibration's dance with both measures' means. */
export interface PlacedDance extends JointDance {
  readonly distanceM: number;
}

const gridSide = 25;
const mostCorrelation = 0.96;

/**
 * Correlations of duration and circuit time between bees, between dances and between runs.
 *
 * Each measure's curve and variances are those of its own calibration. The correlation of runs is that of their
 * deviations within dances, pooled. Those of bees and dances are drawn from their joint posterior on a grid,
 * flat between −0.96 and 0.96: with as few bees as there are, it is wide. Draws of the two curves are paired so
 * that their errors correlate as the data's do (Iman & Conover 1982, Commun Stat B 11:311; from memory).
 */
export function correlate(
  duration: Calibration,
  tempo: Calibration,
  pairs: readonly PairedRuns[],
  random: Random,
): Correlations {
  const runs = runCorrelation(pairs);
  const dances = placedDances(
    duration,
    tempo,
    new Map(pairs.map(({ danceId, paired }) => [danceId, paired])),
  );
  const variances = [pointVariances(duration), pointVariances(tempo)] as const;
  const has = {
    bees: duration.components.bee && tempo.components.bee,
    dances: duration.components.dance && tempo.components.dance,
  };
  const axis = Array.from({ length: gridSide }, (_, k) => mostCorrelation * ((2 * (k + 0.5)) / gridSide - 1));
  const grid = (has.bees ? axis : [0]).flatMap((bees) =>
    (has.dances ? axis : [0]).map((own): Pair => [bees, own]),
  );
  const residuals = dances.map((dance) => residualOf(dance, duration, tempo));
  const byBee = gathered(dances);
  const deviances = grid.map(([bees, own]) =>
    jointDeviance(dances, residuals, byBee, variances, { bees, dances: own, runs }, duration, tempo),
  );
  const draws = drawGrid(grid, deviances, duration.draws.length, random);
  const ranged = (which: 0 | 1): Ranged => {
    const drawn = draws.map((draw) => draw[which]);
    return {
      value: quantile(drawn, 0.5)!,
      low: quantile(drawn, 0.025)!,
      high: quantile(drawn, 0.975)!,
    };
  };
  const bees = ranged(0);
  const own = ranged(1);
  const target = errorCorrelation(variances, { bees: bees.value, dances: own.value, runs }, duration, dances);
  return {
    runs,
    bees,
    dances: own,
    draws,
    tempoDraws: pairDraws(duration, tempo, target, random),
    paired: pairs.filter(({ paired }) => paired > 0).map(({ danceId, paired }) => [danceId, paired]),
  };
}

/** The dances of both calibrations, each with the measures it has. */
export function placedDances(
  duration: Calibration,
  tempo: Calibration,
  paired: ReadonlyMap<string, number>,
): PlacedDance[] {
  const ofTempo = new Map(tempo.dances.map((dance) => [dance.danceId, dance]));
  const ofDuration = new Set(duration.dances.map(({ danceId }) => danceId));
  const own = duration.dances.map((dance) => ({
    beeId: dance.beeId,
    distanceM: dance.distanceM,
    duration: dance,
    tempo: ofTempo.get(dance.danceId) ?? null,
    paired: paired.get(dance.danceId) ?? 0,
  }));
  const others = tempo.dances
    .filter(({ danceId }) => !ofDuration.has(danceId))
    .map((dance) => ({
      beeId: dance.beeId,
      distanceM: dance.distanceM,
      duration: null,
      tempo: dance,
      paired: 0,
    }));
  return [...own, ...others];
}

function runCorrelation(pairs: readonly PairedRuns[]): number {
  const sum = pairs.reduce<PairMatrix>((total, { squares }) => addPairs(total, squares), emptyPair);
  const correlation = sum[1] / Math.sqrt(sum[0] * sum[2]);
  if (!Number.isFinite(correlation)) return 0;
  return Math.max(-0.99, Math.min(0.99, correlation));
}

function pointVariances({ scatter }: Calibration): Variances {
  return {
    bee: (scatter.betweenBeesS?.value ?? 0) ** 2,
    dance: (scatter.betweenDancesS?.value ?? 0) ** 2,
    nearRunSd: scatter.runsNearS.value,
    farRunSd: scatter.runsFarS.value,
  };
}

/** SD of runs at a distance, by a calibration's own span of feeders. */
export function runSdOf(calibration: Calibration, variances: Variances, distanceM: number): number {
  const { nearestFeederM, farthestFeederM } = calibration;
  return runSdAt(distanceM / farthestFeederM, nearestFeederM / farthestFeederM, variances);
}

/** Covariance of a dance's two means, given the bee: dances' and runs' shares. */
export function danceCovariance(
  dance: JointDance,
  variances: readonly [Variances, Variances],
  runSds: Pair,
  correlations: { readonly dances: number; readonly runs: number },
): PairMatrix {
  const [first, second] = variances;
  const between = pairCovariance([first.dance, second.dance], correlations.dances);
  const counts: Pair = [dance.duration?.usedRuns ?? 1, dance.tempo?.usedRuns ?? 1];
  // Only runs with both measures share their scatter between the two means.
  const shared = (correlations.runs * runSds[0] * runSds[1] * dance.paired) / (counts[0] * counts[1]);
  return addPairs(between, [runSds[0] ** 2 / counts[0], shared, runSds[1] ** 2 / counts[1]]);
}

function residualOf(dance: PlacedDance, duration: Calibration, tempo: Calibration): Pair {
  const of = ({ curve, parameters }: Calibration, measure: JointDance['duration']) =>
    measure === null ? 0 : measure.meanS - curveNamed(curve)!.value(dance.distanceM, parameters);
  return [of(duration, dance.duration), of(tempo, dance.tempo)];
}

function gathered(dances: readonly PlacedDance[]): number[][] {
  const byBee = new Map<string | number, number[]>();
  dances.forEach(({ beeId }, index) => {
    const key = beeId ?? index;
    byBee.set(key, [...(byBee.get(key) ?? []), index]);
  });
  return [...byBee.values()];
}

/** −2 log likelihood of the correlations, up to a constant: the nested model of pairs, bee by bee. */
function jointDeviance(
  dances: readonly PlacedDance[],
  residuals: readonly Pair[],
  byBee: readonly (readonly number[])[],
  variances: readonly [Variances, Variances],
  correlations: { readonly bees: number; readonly dances: number; readonly runs: number },
  duration: Calibration,
  tempo: Calibration,
): number {
  const between = pairCovariance([variances[0].bee, variances[1].bee], correlations.bees);
  let deviance = 0;
  for (const own of byBee) {
    let weight = emptyPair;
    let pull: Pair = [0, 0];
    for (const j of own) {
      const dance = dances[j];
      const has = [dance.duration !== null, dance.tempo !== null] as const;
      const sds: Pair = [
        runSdOf(duration, variances[0], dance.distanceM),
        runSdOf(tempo, variances[1], dance.distanceM),
      ];
      const covariance = danceCovariance(dance, variances, sds, correlations);
      const inverse = invertPair(covariance, has);
      if (has[0] && has[1]) deviance += Math.log(pairDeterminant(covariance));
      deviance += pairForm(inverse, residuals[j]);
      weight = addPairs(weight, inverse);
      const [x, y] = timesPair(inverse, residuals[j]);
      pull = [pull[0] + x, pull[1] + y];
    }
    const { covariance, factor } = leftOver(between, weight);
    deviance += Math.log(factor) - pairForm(covariance, pull);
  }
  return deviance;
}

function drawGrid(
  grid: readonly Pair[],
  deviances: readonly number[],
  count: number,
  random: Random,
): Pair[] {
  const least = Math.min(...deviances);
  const weights = deviances.map((value) => Math.exp(-0.5 * (value - least)));
  const total = weights.reduce((sum, value) => sum + value, 0);
  return Array.from({ length: count }, () => {
    let rest = random.uniform() * total;
    const place = weights.findIndex((weight) => {
      rest -= weight;
      return rest < 0;
    });
    return grid[place < 0 ? grid.length - 1 : place];
  });
}

/** Correlation of the errors of the two curves' levels: bees', dances' and runs' shares over their numbers. */
function errorCorrelation(
  [first, second]: readonly [Variances, Variances],
  correlations: { readonly bees: number; readonly dances: number; readonly runs: number },
  { counts }: Calibration,
  dances: readonly PlacedDance[],
): number {
  const timed = dances.filter(({ duration }) => duration !== null).length;
  const withTempo = dances.filter(({ tempo }) => tempo !== null).length;
  const both = timed + withTempo - dances.length;
  if (both === 0) return 0;
  // Means of n and m values that have k of them in common correlate as k/√(n·m) of what the values do.
  const share = both / Math.sqrt(timed * withTempo);
  const sum = [
    pairCovariance([first.bee, second.bee], correlations.bees).map((v) => v / Math.max(counts.bees, 1)),
    pairCovariance([first.dance, second.dance], correlations.dances).map((v) => v / counts.dances),
    pairCovariance([first.nearRunSd ** 2, second.nearRunSd ** 2], correlations.runs).map(
      (v) => v / counts.runs,
    ),
  ].reduce((left, right) => left.map((value, i) => value + right[i]));
  const correlation = (share * sum[1]) / Math.sqrt(sum[0] * sum[2]);
  return Number.isFinite(correlation) ? Math.max(-0.99, Math.min(0.99, correlation)) : 0;
}

/** An order of the tempo's draws whose times at a middle distance correlate with the duration's as wanted. */
function pairDraws(duration: Calibration, tempo: Calibration, target: number, random: Random): number[] {
  const middleM = Math.sqrt(duration.nearestFeederM * duration.farthestFeederM);
  const ranked = ({ draws, curve, farthestFeederM }: Calibration) =>
    draws
      .map(({ parameters }, index) => ({
        index,
        timeS: timeBeyond(curveNamed(curve)!, parameters, middleM, farthestFeederM),
      }))
      .sort((left, right) => left.timeS - right.timeS)
      .map(({ index }) => index);
  const count = Math.min(duration.draws.length, tempo.draws.length);
  const scores = Array.from({ length: count }, () => {
    const x = random.normal();
    return { x, y: target * x + Math.sqrt(1 - target ** 2) * random.normal() };
  });
  const rankOf = (key: 'x' | 'y') => {
    const order = scores.map((_, i) => i).sort((left, right) => scores[left][key] - scores[right][key]);
    const rank = new Array<number>(count);
    order.forEach((place, i) => {
      rank[place] = i;
    });
    return rank;
  };
  const [byDuration, byTempo] = [ranked(duration), ranked(tempo)];
  const [rankX, rankY] = [rankOf('x'), rankOf('y')];
  const result = new Array<number>(duration.draws.length);
  for (let i = 0; i < count; i++) result[byDuration[rankX[i]]] = byTempo[rankY[i]];
  return result;
}
