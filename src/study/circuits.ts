import { medianOf } from '../signal/quantile.ts';
import type { TrainRow } from './tables.ts';

/** A circuit this many times as long as the dance's median holds a run that went unheard. */
const WHOLE_UP_TO = 1.6;

/**
 * Tempo of the circuit that each run of a dance begins, in circuits per 15 s to three decimals: 15 s over the time to
 * the next run's start.
 *
 * @param runs in the order danced
 * @returns null for the last run, where a run went unheard in between (over 1.6 times the median circuit), and from one
 *   recording into the next, whose clocks are not that good
 */
export function circuitsPer15sOf(runs: readonly TrainRow[]): (number | null)[] {
  const circuitsS = runs.map((run, k) => {
    const next = runs[k + 1];
    return next?.recording === run.recording ? next.start_s - run.start_s : null;
  });
  const longestS = WHOLE_UP_TO * medianOf(circuitsS.flatMap((circuitS) => circuitS ?? []));
  return circuitsS.map((circuitS) =>
    circuitS !== null && circuitS <= longestS ? Number((15 / circuitS).toFixed(3)) : null,
  );
}
