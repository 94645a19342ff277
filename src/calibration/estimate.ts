import { timeBeyond } from './beyond.ts';
import type { Calibration } from './calibration.ts';
import { curveNamed } from './curves/registry.ts';
import { type BeeKnowledge, knownBee, meanLogLikelihood, unknownBee } from './dance-likelihood.ts';
import { defaultPrior } from './defaults.ts';
import {
  type DistancePosterior,
  type DistancePrior,
  distancePosterior,
  posteriorBelow,
  posteriorQuantile,
} from './distance-posterior.ts';
import { nestedData } from './nested/data.ts';
import { runSdAt } from './nested/variances.ts';

/** Nearer sources are danced for with round dances, whose runs are hardly to be timed. */
const readableFromM = 100;

/** A dance to be told the distance of. */
export interface TimedDance {
  /** A bee of the calibration, or any other name, or null: then she is taken as not met before. */
  readonly beeId: string | null;
  /** Mean time of the used runs (s). */
  readonly meanS: number;
  readonly usedRuns: number;
}

/** Reads distances off one calibration; what its draws share is reckoned once. */
export interface Estimator {
  /** Log likelihood of a distance (m) for a dance. */
  logLikelihood(dance: TimedDance): (distanceM: number) => number;
  /** Posterior under the prior, or undefined where no distance gives such a time. */
  posterior(dance: TimedDance, prior?: DistancePrior): DistancePosterior | undefined;
}

/** Makes an estimator of a calibration. */
export function estimatorOf(calibration: Calibration): Estimator {
  const curve = curveNamed(calibration.curve)!;
  const { draws, dances } = calibration;
  const data = nestedData(dances);
  const unknown = draws.map(unknownBee);
  const known = new Map<string, readonly BeeKnowledge[]>();
  const beesPlace = new Map<string, number>();
  for (let bee = 0; bee + 1 < data.beeStart.length; bee++) {
    const { beeId } = dances[data.order[data.beeStart[bee]]];
    if (beeId !== null) beesPlace.set(beeId, bee);
  }
  const knowledgeOf = (beeId: string | null): readonly BeeKnowledge[] => {
    const place = beeId === null || !calibration.components.bee ? undefined : beesPlace.get(beeId);
    if (place === undefined) return unknown;
    const already = known.get(beeId!) ?? draws.map((draw) => knownBee(curve, data, place, draw));
    known.set(beeId!, already);
    return already;
  };
  const logLikelihood = ({ beeId, meanS, usedRuns }: TimedDance) =>
    meanLogLikelihood(curve, draws, data.reaches[0], data.farthestM, knowledgeOf(beeId), meanS, usedRuns);
  return {
    logLikelihood,
    posterior: (dance, prior = defaultPrior) => distancePosterior(logLikelihood(dance), prior),
  };
}

/** Distance of one dance. null is unknown; why, the notes say. */
export interface DistanceEstimate {
  /** Median (m). */
  readonly distanceM: number | null;
  readonly lowM: number | null;
  readonly highM: number | null;
  /** Whether the median lies between the nearest and the farthest feeder. */
  readonly inRange: boolean;
  readonly notes: readonly string[];
  readonly posterior: DistancePosterior | undefined;
}

/** What an estimate is told against: where the feeders are, and what times the curve takes where. */
export interface Reading {
  readonly nearestFeederM: number;
  readonly farthestFeederM: number;
  /** How many SDs the dance's time lies above the curve at a distance (below: negative). */
  deviation(distanceM: number): number;
}

// Beyond this many SDs from the curve at any distance, a time is no time of this colony's.
const farFromCurve = 4;
// From this probability on outside the feeders' range, the answer leans on what the curve does there.
const leaning = 0.2;

/**
 * Sums up a posterior: median, interval of equal tails, and what a reader must know of them. Where the distance
 * is more likely than not nearer than can be read (100 m, or the nearest feeder where that is nearer) there is
 * no number but an upper bound.
 *
 * @param level probability of the interval, between 0 and 1
 */
export function summarise(
  posterior: DistancePosterior | undefined,
  { nearestFeederM, farthestFeederM, deviation }: Reading,
  level: number,
  { nearestM, farthestM }: DistancePrior,
): DistanceEstimate {
  const nothing = { distanceM: null, lowM: null, highM: null, inRange: false, posterior };
  if (posterior === undefined || deviation(farthestM) > farFromCurve) {
    return { ...nothing, notes: [`longer than the curve at any distance up to ${farthestM} m`] };
  }
  if (deviation(nearestM) < -farFromCurve) {
    return { ...nothing, notes: ['too near to read', 'shorter than the curve at any distance'] };
  }
  const distanceM = posteriorQuantile(posterior, 0.5);
  const lowM = posteriorQuantile(posterior, (1 - level) / 2);
  const highM = posteriorQuantile(posterior, (1 + level) / 2);
  if (distanceM < Math.min(readableFromM, nearestFeederM)) {
    return { ...nothing, lowM: nearestM, highM, notes: ['too near to read'] };
  }
  const inRange = distanceM >= nearestFeederM && distanceM <= farthestFeederM;
  const inside = posteriorBelow(posterior, farthestFeederM) - posteriorBelow(posterior, nearestFeederM);
  const notes: string[] = [];
  if (!inRange) notes.push('extrapolated');
  else if (1 - inside > leaning) notes.push('leans on extrapolation');
  if (farthestM - highM < 0.05 * (farthestM - nearestM)) notes.push('upper bound is that of the prior');
  return { distanceM, lowM, highM, inRange, notes, posterior };
}

/** Estimates a dance's distance from one measure alone. */
export function estimateDistance(
  calibration: Calibration,
  estimator: Estimator,
  dance: TimedDance,
  level: number,
  prior: DistancePrior = defaultPrior,
): DistanceEstimate {
  return summarise(estimator.posterior(dance, prior), readingOf(calibration, dance), level, prior);
}

/** Deviations of a dance's time from a calibration's curve. */
export function readingOf(calibration: Calibration, dance: TimedDance): Reading {
  const { nearestFeederM, farthestFeederM, scatter, parameters } = calibration;
  const curve = curveNamed(calibration.curve)!;
  const square = (sd: { value: number } | null) => (sd?.value ?? 0) ** 2;
  const variances = {
    bee: square(scatter.betweenBeesS),
    dance: square(scatter.betweenDancesS),
    nearRunSd: scatter.runsNearS.value,
    farRunSd: scatter.runsFarS.value,
  };
  return {
    nearestFeederM,
    farthestFeederM,
    deviation: (distanceM) => {
      // Beyond the feeders runs are taken to scatter as at the outermost.
      const withinM = Math.min(Math.max(distanceM, nearestFeederM), farthestFeederM);
      const runS = runSdAt(withinM / farthestFeederM, nearestFeederM / farthestFeederM, variances);
      const sd = Math.sqrt(variances.bee + variances.dance + runS ** 2 / dance.usedRuns);
      const residual = dance.meanS - timeBeyond(curve, parameters, distanceM, farthestFeederM);
      return residual === 0 ? 0 : residual / sd;
    },
  };
}

/** Probability that a distance is nearer to one feeder's than to any other's. */
export interface Neighbourhood {
  readonly feederM: number;
  readonly fromM: number;
  readonly toM: number;
  readonly probability: number;
}

/**
 * Probability within each feeder's neighbourhood: from halfway to the next nearer feeder to halfway to the next
 * farther one; the outermost reach out as far as they reach in.
 */
export function neighbourhoods(posterior: DistancePosterior, feedersM: readonly number[]): Neighbourhood[] {
  const sorted = [...new Set(feedersM)].sort((left, right) => left - right);
  return sorted.map((feederM, i) => {
    const inward = i > 0 ? (feederM - sorted[i - 1]) / 2 : ((sorted[1] ?? 2 * feederM) - feederM) / 2;
    const outward = i < sorted.length - 1 ? (sorted[i + 1] - feederM) / 2 : inward;
    const fromM = Math.max(0, feederM - inward);
    const toM = feederM + outward;
    const probability = posteriorBelow(posterior, toM) - posteriorBelow(posterior, fromM);
    return { feederM, fromM, toM, probability };
  });
}
