import type { PairedRuns } from '../calibration/joint.ts';
import { chooseRuns, type RunChoice } from '../calibration/runs.ts';
import { circuitTimeS } from '../calibration/tempo.ts';
import type { ObservedDance } from './observations.ts';

/** Seconds of each circuit of a dance, null where it was not timed. */
export function circuitTimesS(dance: ObservedDance): (number | null)[] {
  return dance.circuitsPer15s.map((circuits) => (circuits === null ? null : circuitTimeS(circuits)));
}

/** The used runs of a dance that have both a duration and a circuit time: their number, squares and products. */
export function pairedRuns(dance: ObservedDance, choice: RunChoice): PairedRuns {
  const circuits = circuitTimesS(dance);
  const rows = dance.durationsS.map((durationS, i) => [durationS, circuits[i]] as const);
  const both = chooseRuns(rows, choice).flatMap(([durationS, circuitS]) =>
    durationS === null || circuitS === null ? [] : [[durationS, circuitS] as const],
  );
  const mean = (which: 0 | 1) => both.reduce((sum, pair) => sum + pair[which], 0) / both.length;
  const [first, second] = both.length === 0 ? [0, 0] : [mean(0), mean(1)];
  const product = (left: 0 | 1, right: 0 | 1) => {
    const means = [first, second];
    return both.reduce((sum, pair) => sum + (pair[left] - means[left]) * (pair[right] - means[right]), 0);
  };
  return {
    danceId: dance.danceId,
    paired: both.length,
    squares: [product(0, 0), product(0, 1), product(1, 1)],
  };
}
