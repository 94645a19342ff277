/**
 * Coverage of distances told from duration and tempo together, beside those from duration alone: simulated
 * studies whose circuits are a run and a return phase, so that the two measures share the run's scatter.
 *
 *   tsc -p tests/bench && node .bench/tests/bench/coverage-joint.js [--studies 300] [--seed 1]
 */
import { parseArgs } from 'node:util';
import { calibrate } from '../../src/calibration/calibrate.ts';
import type { CalibrationDance } from '../../src/calibration/calibration.ts';
import { defaultPrior } from '../../src/calibration/defaults.ts';
import { posteriorBelow, posteriorQuantile } from '../../src/calibration/distance-posterior.ts';
import { estimateDistance, estimatorOf } from '../../src/calibration/estimate.ts';
import { correlate, type PairedRuns } from '../../src/calibration/joint.ts';
import { jointEstimator } from '../../src/calibration/joint-estimate.ts';
import { summariseRuns } from '../../src/calibration/runs.ts';
import { type Random, seededRandom } from '../../src/random.ts';
import { medianOf } from '../../src/signal/quantile.ts';

const feedersM = [150, 400, 800, 1400, 2200];
const bees = 8;

/** A bee's deviations of run duration and of return phase, s. */
type Bee = readonly [number, number];

function simulatedDance(distanceM: number, [runS, returnS]: Bee, random: Random) {
  const danceRunS = 0.2 + 0.0012 * distanceM + runS + 0.04 * random.normal();
  const danceReturnS = 1.3 + 0.0005 * distanceM + returnS + 0.1 * random.normal();
  const rows = Array.from({ length: 2 + random.below(7) }, () => {
    const durationS = danceRunS + (0.14 + 0.00025 * distanceM) * random.normal();
    return [durationS, durationS + danceReturnS + 0.3 * random.normal()] as const;
  });
  const duration = summariseRuns(
    rows.map(([value]) => value),
    'all',
  )!;
  const tempo = summariseRuns(
    rows.map(([, value]) => value),
    'all',
  )!;
  const product = rows.reduce((sum, [d, t]) => sum + (d - duration.meanS) * (t - tempo.meanS), 0);
  return { duration, tempo, paired: rows.length, product };
}

const newBee = (random: Random): Bee => [0.05 * random.normal(), 0.12 * random.normal()];

function oneStudy(random: Random) {
  const durations: CalibrationDance[] = [];
  const tempos: CalibrationDance[] = [];
  const pairs: PairedRuns[] = [];
  for (let bee = 0; bee < bees; bee++) {
    const own = newBee(random);
    for (const distanceM of feedersM) {
      for (let dance = 0; dance < 2; dance++) {
        const danceId = `${bee}-${distanceM}-${dance}`;
        const { duration, tempo, paired, product } = simulatedDance(distanceM, own, random);
        durations.push({ danceId, beeId: `${bee}`, distanceM, ...duration });
        tempos.push({ danceId, beeId: `${bee}`, distanceM, ...tempo });
        pairs.push({
          danceId,
          paired,
          squares: [duration.squaredDeviations, product, tempo.squaredDeviations],
        });
      }
    }
  }
  const options = { seed: random.below(2 ** 31), leaveOut: false };
  const [duration, tempo] = [calibrate(durations, 'auto', options), calibrate(tempos, 'auto', options)];
  if (!duration.ok || !tempo.ok) return undefined;
  const correlations = correlate(duration.calibration, tempo.calibration, pairs, random);
  return { duration: duration.calibration, tempo: tempo.calibration, correlations };
}

const { values } = parseArgs({
  options: { studies: { type: 'string', default: '300' }, seed: { type: 'string', default: '1' } },
});
const random = seededRandom(Number(values.seed));
const held = { both: [0, 0, 0], duration: [0, 0, 0] };
const ratios: number[] = [];
let told = 0;
for (let study = 0; study < Number(values.studies); study++) {
  const joint = oneStudy(random);
  if (joint === undefined) continue;
  const both = jointEstimator(joint);
  const alone = estimatorOf(joint.duration);
  for (let k = 0; k < 4; k++) {
    const distanceM = random.between(feedersM[0], feedersM[feedersM.length - 1]);
    const dance = { beeId: null, ...simulatedDance(distanceM, newBee(random), random) };
    const found = {
      both: both.estimate(dance, 0.95, defaultPrior).posterior,
      duration: estimateDistance(joint.duration, alone, { beeId: null, ...dance.duration }, 0.95).posterior,
    };
    if (found.both === undefined || found.duration === undefined) continue;
    told++;
    for (const name of ['both', 'duration'] as const) {
      const below = posteriorBelow(found[name]!, distanceM);
      [0.5, 0.8, 0.95].forEach((level, i) => {
        if (Math.abs(below - 0.5) <= level / 2) held[name][i]++;
      });
    }
    const width = (name: 'both' | 'duration') =>
      posteriorQuantile(found[name]!, 0.975) - posteriorQuantile(found[name]!, 0.025);
    ratios.push(width('both') / width('duration'));
  }
}
console.log('from | 50 % | 80 % | 95 % | estimates');
for (const name of ['both', 'duration'] as const) {
  console.log([name, ...held[name].map((count) => ((100 * count) / told).toFixed(1)), told].join(' | '));
}
console.log(`median width from both over that from duration alone: ${medianOf(ratios).toFixed(3)}`);
