import { circuitsPer15sOf } from './circuits.ts';
import type { ObservationRow, TrainRow } from './tables.ts';

/** What an observer noted of a dance: the dancer's mark and, at a feeder, its distance. */
export interface DanceNote {
  readonly beeId: string | null;
  readonly distanceM: number | null;
  readonly treatment: string | null;
}

/**
 * Rows of observations.csv from timed runs and an observer's notes: one row per run of each noted dance, in
 * order, with the run's duration and the tempo of the circuit that it begins (15 s over the time to the next
 * run's start; empty for the last run, where a run went unheard in between, and from one recording into the next). A
 * run without a duration, such as one cut by the end of a recording, has none here.
 *
 * @param notes by dance_id; runs of dances without a note are left out, as are rejected runs
 */
export function observationsOfDances(
  trains: readonly TrainRow[],
  notes: ReadonlyMap<string, DanceNote>,
): ObservationRow[] {
  return [...notes].flatMap(([danceId, note]) => {
    const runs = trains
      .filter((train) => train.dance_id === danceId && train.status !== 'rejected')
      .sort((a, b) => a.start_s - b.start_s);
    const circuits = circuitsPer15sOf(runs);
    return runs.map((run, k): ObservationRow => {
      return {
        bee_id: note.beeId,
        dance_id: danceId,
        distance_m: note.distanceM,
        duration_s: run.duration_s === null ? null : Number((run.end_s - run.start_s).toFixed(4)),
        circuits_per_15s: circuits[k] ?? null,
        treatment: note.treatment,
      };
    });
  });
}
