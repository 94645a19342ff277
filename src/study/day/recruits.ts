import type { DanceFinding } from '../study-findings.ts';
import type { Arrival } from './arrivals.ts';
import { rounded } from './day-dances.ts';
import type { ArrivalLatencyRow } from './day-tables.ts';

/**
 * Arrivals at feeders against the dances for them: the time since the start of the last dance for the feeder that had
 * begun (recruits may leave before a dance is over), and how many dances and runs there were within a window before.
 * A bee that bears the mark of a dancer or of a feeder is no recruit.
 *
 * @param windowMin minutes before the arrival in which dances are counted, and within which the last must lie
 * @param marks paint marks of the feeders' trained bees
 */
export function arrivalLatencies(
  arrivals: readonly Arrival[],
  dances: readonly DanceFinding[],
  windowMin: number,
  marks: ReadonlySet<string>,
): ArrivalLatencyRow[] {
  const timed = dances.flatMap(({ dance, instant }) =>
    instant === null ? [] : [{ dance, start: instant - 500 * (dance.endS - dance.startS) }],
  );
  const known = new Set([
    ...marks,
    ...dances.flatMap(({ dance }) => [dance.beeId, dance.paintMark].filter((mark) => mark !== null)),
  ]);
  return arrivals.map(({ time, instant, feederId, mark }) => {
    const before = timed
      .filter(
        ({ dance, start }) =>
          dance.feederId === feederId && start <= instant && instant - start <= 60_000 * windowMin,
      )
      .sort((a, b) => a.start - b.start);
    const last = before.at(-1);
    return {
      time,
      feeder_id: feederId,
      mark,
      recruit: mark === null || !known.has(mark),
      last_dance_id: last?.dance.id ?? null,
      latency_s: last === undefined ? null : rounded((instant - last.start) / 1000, 1),
      dances_before: before.length,
      runs_before: before.reduce((sum, { dance }) => sum + dance.runCount, 0),
    };
  });
}
