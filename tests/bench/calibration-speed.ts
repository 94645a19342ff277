/**
 * How long a large calibration and an estimate take on one core: 5000 used runs of 60 bees at 8 feeders, all four
 * curves fitted, compared and refitted without each feeder; then dances one by one.
 *
 *   tsc -p tests/bench && node .bench/tests/bench/calibration-speed.js
 */
import { calibrate } from '../../src/calibration/calibrate.ts';
import type { CalibrationDance } from '../../src/calibration/calibration.ts';
import { estimateDistance, estimatorOf } from '../../src/calibration/estimate.ts';
import { seededRandom } from '../../src/random.ts';

const random = seededRandom(1);
const feedersM = [100, 200, 400, 700, 1100, 1600, 2200, 3000];
const dances: CalibrationDance[] = [];
for (let bee = 0; bee < 60; bee++) {
  const beeS = 0.05 * random.normal();
  for (let dance = 0; dance < 17; dance++) {
    const distanceM = feedersM[random.below(feedersM.length)];
    const runSd = 0.14 + 0.00025 * distanceM;
    const usedRuns = 3 + random.below(5);
    const centreS = 0.15 + 3 * (1 - Math.exp(-distanceM / 2500)) + beeS + 0.04 * random.normal();
    dances.push({
      danceId: `${bee}-${dance}`,
      beeId: `bee-${bee}`,
      distanceM,
      usedRuns,
      meanS: centreS + (runSd * random.normal()) / Math.sqrt(usedRuns),
      squaredDeviations: runSd ** 2 * 2 * random.gamma((usedRuns - 1) / 2),
    });
  }
}
const runs = dances.reduce((sum, dance) => sum + dance.usedRuns, 0);

/** What work gave, and the processor's time for it in ms, which other work on the machine does not lengthen. */
const timed = <T>(work: () => T): [T, number] => {
  const began = process.cpuUsage();
  const result = work();
  const { user, system } = process.cpuUsage(began);
  return [result, (user + system) / 1000];
};

for (const leaveOut of [false, true]) {
  const [outcome, tookMs] = timed(() => calibrate(dances, 'auto', { leaveOut }));
  if (!outcome.ok) throw new Error(outcome.found);
  const what = leaveOut ? 'with each feeder left out in turn' : 'fitted and compared';
  console.log(`${runs} runs, ${dances.length} dances, four curves ${what}: ${(tookMs / 1000).toFixed(2)} s`);
  if (leaveOut) continue;
  const estimator = estimatorOf(outcome.calibration);
  const count = 200;
  const [, allMs] = timed(() => {
    for (let k = 0; k < count; k++) {
      const dance = { beeId: null, meanS: 0.4 + 0.01 * k, usedRuns: 5 };
      estimateDistance(outcome.calibration, estimator, dance, 0.95);
    }
  });
  console.log(`one estimate (${outcome.calibration.curve}): ${(allMs / count).toFixed(1)} ms`);
}
