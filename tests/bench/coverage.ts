/**
 * How often intervals of estimated distances hold the true distance, over simulated studies of every kind in
 * coverage-cases.ts, and how wide they are beside those of an oracle that knows the colony's true curve and
 * scatter. Dances to be estimated are to places anywhere between the nearest and the farthest feeder.
 *
 *   tsc -p tests/bench && node .bench/tests/bench/coverage.js [--studies 1000] [--seed 1] [--case TEXT] [--curve auto]
 */
import { parseArgs } from 'node:util';
import { calibrate } from '../../src/calibration/calibrate.ts';
import { defaultPrior } from '../../src/calibration/defaults.ts';
import {
  type DistancePosterior,
  distancePosterior,
  posteriorBelow,
  posteriorQuantile,
} from '../../src/calibration/distance-posterior.ts';
import { estimatorOf } from '../../src/calibration/estimate.ts';
import { type Random, seededRandom } from '../../src/random.ts';
import { medianOf } from '../../src/signal/quantile.ts';
import { coverageCases } from './coverage-cases.ts';
import { runSdS, simulatedDance, simulatedStudy, type Truth } from './coverage-study.ts';

const levels = [0.5, 0.8, 0.95];
const dancesPerStudy = 4;

interface Tally {
  readonly held: number[];
  readonly widths: number[][];
  estimates: number;
  failed: number;
  readonly curves: Map<string, number>;
}

function runCase(truth: Truth, studies: number, seed: number, curve: string): Tally {
  const random = seededRandom(seed);
  const tally: Tally = {
    held: levels.map(() => 0),
    widths: levels.map(() => []),
    estimates: 0,
    failed: 0,
    curves: new Map(),
  };
  for (let study = 0; study < studies; study++) oneStudy(truth, random, curve, tally);
  return tally;
}

function oneStudy(truth: Truth, random: Random, wanted: string, tally: Tally): void {
  const { dances, beesS } = simulatedStudy(truth, random);
  const outcome = calibrate(dances, wanted, { seed: random.below(2 ** 31), leaveOut: false });
  if (!outcome.ok) {
    tally.failed++;
    return;
  }
  const { calibration } = outcome;
  tally.curves.set(calibration.curve, (tally.curves.get(calibration.curve) ?? 0) + 1);
  const estimator = estimatorOf(calibration);
  for (let dance = 0; dance < dancesPerStudy; dance++) {
    const distanceM = random.between(truth.feedersM[0], truth.feedersM[truth.feedersM.length - 1]);
    const bee = truth.newDancesBy === 'known bees' ? random.below(truth.bees) : -1;
    const beeS = bee < 0 ? truth.beeSdS * random.normal() : beesS[bee];
    const { meanS, usedRuns } = simulatedDance(truth, distanceM, beeS, random);
    const found = estimator.posterior({ beeId: bee < 0 ? null : `bee-${bee}`, meanS, usedRuns });
    const oracle = oracleOf(truth, bee < 0 ? null : beeS, meanS, usedRuns);
    if (found === undefined || oracle === undefined) {
      tally.failed++;
      continue;
    }
    const below = posteriorBelow(found, distanceM);
    tally.estimates++;
    levels.forEach((level, i) => {
      if (Math.abs(below - 0.5) <= level / 2) tally.held[i]++;
      tally.widths[i].push(widthOf(found, level) / widthOf(oracle, level));
    });
  }
}

function widthOf(posterior: DistancePosterior, level: number): number {
  return posteriorQuantile(posterior, (1 + level) / 2) - posteriorQuantile(posterior, (1 - level) / 2);
}

/**
 * Posterior of one who knows the colony's curve and scatter, and a known bee's true deviation. Beyond the
 * farthest feeder it takes a curve that levels off to go on straight, as the estimates do: a true ceiling would
 * leave its intervals open to the end of the prior, and no comparison.
 */
function oracleOf(truth: Truth, beeS: number | null, meanS: number, usedRuns: number) {
  const { beeSdS, danceSdS, feedersM } = truth;
  const farthestM = feedersM[feedersM.length - 1];
  const slope = (truth.timeS(farthestM + 1) - truth.timeS(farthestM - 1)) / 2;
  const timeS = (distanceM: number) =>
    truth.name.startsWith('saturating') && distanceM > farthestM
      ? truth.timeS(farthestM) + slope * (distanceM - farthestM)
      : truth.timeS(distanceM);
  return distancePosterior((distanceM) => {
    const variance = (beeS === null ? beeSdS ** 2 : 0) + danceSdS ** 2 + runSdS(distanceM) ** 2 / usedRuns;
    return -0.5 * (Math.log(variance) + (meanS - timeS(distanceM) - (beeS ?? 0)) ** 2 / variance);
  }, defaultPrior);
}

const { values } = parseArgs({
  options: {
    studies: { type: 'string', default: '1000' },
    seed: { type: 'string', default: '1' },
    case: { type: 'string', default: '' },
    curve: { type: 'string', default: 'auto' },
  },
});
console.log(
  'case | 50 % | 80 % | 95 % | width over the oracle’s, 95 % | estimates | failed | curves taken | s',
);
for (const truth of coverageCases.filter(({ name }) => name.includes(values.case))) {
  const began = performance.now();
  const tally = runCase(truth, Number(values.studies), Number(values.seed), values.curve);
  const shares = tally.held.map((held) => ((100 * held) / tally.estimates).toFixed(1));
  const widths = medianOf(tally.widths[2]).toFixed(3);
  const curves = [...tally.curves].map(([name, count]) => `${name} ${count}`).join(', ');
  const tookS = ((performance.now() - began) / 1000).toFixed(0);
  console.log([truth.name, ...shares, widths, tally.estimates, tally.failed, curves, tookS].join(' | '));
}
