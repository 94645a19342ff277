import { timeBeyond } from './beyond.ts';
import type { Calibration } from './calibration.ts';
import { curveNamed } from './curves/registry.ts';
import { logMeanExp } from './dance-likelihood.ts';
import { type DistancePrior, distancePosterior } from './distance-posterior.ts';
import { type DistanceEstimate, readingOf, summarise } from './estimate.ts';
import {
  type Correlations,
  danceCovariance,
  type JointDance,
  type PlacedDance,
  placedDances,
  runSdOf,
} from './joint.ts';
import type { Draw } from './nested/draws.ts';
import {
  addPairs,
  emptyPair,
  invertPair,
  leftOver,
  type Pair,
  type PairMatrix,
  pairCovariance,
  timesPair,
} from './pair.ts';

/** Both measures' calibrations and how they go together. */
export interface JointCalibration {
  readonly duration: Calibration;
  readonly tempo: Calibration;
  readonly correlations: Correlations;
}

/** Tells distances from duration and tempo together. */
export interface JointEstimator {
  estimate(dance: JointDance, level: number, prior: DistancePrior): DistanceEstimate;
}

interface Knowledge {
  readonly mean: Pair;
  readonly covariance: PairMatrix;
}

/** Makes an estimator for dances that have both measures. */
export function jointEstimator(joint: JointCalibration): JointEstimator {
  const { duration, tempo, correlations } = joint;
  const draws = duration.draws.map((draw, s) => [draw, tempo.draws[correlations.tempoDraws[s]]] as const);
  const placed = placedDances(duration, tempo, new Map(correlations.paired));
  const unknown = draws.map(
    (pair, s): Knowledge => ({ mean: [0, 0], covariance: beeCovariance(joint, pair, s) }),
  );
  const known = new Map<string, Knowledge[]>();
  const knowledgeOf = (beeId: string | null) => {
    const own = beeId === null ? [] : placed.filter((dance) => dance.beeId === beeId);
    if (own.length === 0) return unknown;
    const already = known.get(beeId!) ?? draws.map((pair, s) => knowBee(joint, pair, s, own));
    known.set(beeId!, already);
    return already;
  };
  return {
    estimate: (dance, level, prior) => {
      const posterior = distancePosterior(
        logLikelihood(joint, draws, knowledgeOf(dance.beeId), dance),
        prior,
      );
      const readings = [
        readingOf(duration, { beeId: dance.beeId, ...dance.duration! }),
        readingOf(tempo, { beeId: dance.beeId, ...dance.tempo! }),
      ];
      const reading = {
        nearestFeederM: duration.nearestFeederM,
        farthestFeederM: duration.farthestFeederM,
        // Out of reach is only what neither measure can be brought to: both lie beyond, and on one side.
        deviation: (distanceM: number) => {
          const [first, second] = readings.map(({ deviation }) => deviation(distanceM));
          if (Math.sign(first) !== Math.sign(second)) return 0;
          return Math.abs(first) < Math.abs(second) ? first : second;
        },
      };
      const told = summarise(posterior, reading, level, prior);
      return { ...told, notes: [...told.notes, ...discord(joint, dance, told.distanceM)] };
    },
  };
}

/** Says when duration and tempo, each at the distance told, lie on opposite sides by a great deal. */
function discord(
  { duration, tempo }: JointCalibration,
  dance: JointDance,
  distanceM: number | null,
): string[] {
  if (distanceM === null) return [];
  const first = readingOf(duration, { beeId: dance.beeId, ...dance.duration! }).deviation(distanceM);
  const second = readingOf(tempo, { beeId: dance.beeId, ...dance.tempo! }).deviation(distanceM);
  return Math.abs(first - second) > 5 ? ['duration and tempo disagree'] : [];
}

function beeCovariance(
  { correlations }: JointCalibration,
  [first, second]: readonly [Draw, Draw],
  s: number,
) {
  return pairCovariance([first.variances.bee, second.variances.bee], correlations.draws[s][0]);
}

/** Mean and covariance of a bee's two deviations, given her dances in the calibration. */
function knowBee(
  joint: JointCalibration,
  pair: readonly [Draw, Draw],
  s: number,
  dances: readonly PlacedDance[],
): Knowledge {
  const { duration, tempo, correlations } = joint;
  const variances = [pair[0].variances, pair[1].variances] as const;
  let weight = emptyPair;
  let pull: Pair = [0, 0];
  for (const dance of dances) {
    const sds: Pair = [
      runSdOf(duration, variances[0], dance.distanceM),
      runSdOf(tempo, variances[1], dance.distanceM),
    ];
    const covariance = danceCovariance(dance, variances, sds, {
      dances: correlations.draws[s][1],
      runs: correlations.runs,
    });
    const inverse = invertPair(covariance, [dance.duration !== null, dance.tempo !== null]);
    const residual: Pair = [
      dance.duration === null
        ? 0
        : dance.duration.meanS - curveNamed(duration.curve)!.value(dance.distanceM, pair[0].parameters),
      dance.tempo === null
        ? 0
        : dance.tempo.meanS - curveNamed(tempo.curve)!.value(dance.distanceM, pair[1].parameters),
    ];
    weight = addPairs(weight, inverse);
    const [x, y] = timesPair(inverse, residual);
    pull = [pull[0] + x, pull[1] + y];
  }
  const { covariance } = leftOver(beeCovariance(joint, pair, s), weight);
  return { mean: timesPair(covariance, pull), covariance };
}

function logLikelihood(
  { duration, tempo, correlations }: JointCalibration,
  draws: readonly (readonly [Draw, Draw])[],
  known: readonly Knowledge[],
  dance: JointDance,
): (distanceM: number) => number {
  const [durationCurve, tempoCurve] = [curveNamed(duration.curve)!, curveNamed(tempo.curve)!];
  const logs = new Float64Array(draws.length);
  return (distanceM) => {
    for (let s = 0; s < draws.length; s++) {
      const [first, second] = draws[s];
      const variances = [first.variances, second.variances] as const;
      const sds: Pair = [
        runSdOf(duration, first.variances, distanceM),
        runSdOf(tempo, second.variances, distanceM),
      ];
      const within = danceCovariance(dance, variances, sds, {
        dances: correlations.draws[s][1],
        runs: correlations.runs,
      });
      const bee = known[s];
      const a = within[0] + bee.covariance[0];
      const b = within[1] + bee.covariance[1];
      const c = within[2] + bee.covariance[2];
      const x =
        dance.duration!.meanS -
        bee.mean[0] -
        timeBeyond(durationCurve, first.parameters, distanceM, duration.farthestFeederM);
      const y =
        dance.tempo!.meanS -
        bee.mean[1] -
        timeBeyond(tempoCurve, second.parameters, distanceM, tempo.farthestFeederM);
      const determinant = a * c - b * b;
      logs[s] = -0.5 * (Math.log(determinant) + (c * x * x - 2 * b * x * y + a * y * y) / determinant);
    }
    return logMeanExp(logs);
  };
}
