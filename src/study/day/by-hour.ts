import { meanOf } from '../../signal/quantile.ts';
import { rounded } from './day-dances.ts';
import type { DayDanceRow, DayHourRow } from './day-tables.ts';

/** A recording on the clock of the hive. */
export interface ClockSpan {
  /** Hour of the day at its start, with its fraction. */
  readonly startHour: number;
  readonly durationS: number;
}

/**
 * Dances by hour of the day, all days together, for the hours that something was recorded in; a dance counts in the
 * hour in which its middle lies. Begging calls a minute are those of all dances over the time of all dances.
 */
export function dayHourRows(dances: readonly DayDanceRow[], recorded: readonly ClockSpan[]): DayHourRow[] {
  const minutes = recordedMinutes(recorded);
  return Array.from({ length: 24 }, (_, hour) => hour).flatMap((hour): DayHourRow[] => {
    const own = dances.filter((dance) => dance.hour !== null && Math.floor(dance.hour) === hour);
    const recordedMin = minutes[hour]!;
    if (own.length === 0 && recordedMin === 0) return [];
    const danceMin = own.reduce((sum, dance) => sum + dance.dance_duration_s, 0) / 60;
    const begging = own.reduce((sum, dance) => sum + dance.begging_calls, 0);
    const mean = (pick: (dance: DayDanceRow) => number | null, decimals: number) =>
      rounded(meanOf(own.flatMap((dance) => pick(dance) ?? [])), decimals);
    return [
      {
        hour,
        recorded_min: rounded(recordedMin, 2)!,
        dances: own.length,
        dances_per_hour: recordedMin < 1 ? null : rounded((60 * own.length) / recordedMin, 2),
        runs: own.reduce((sum, dance) => sum + dance.run_count, 0),
        mean_run_count: mean((dance) => dance.run_count, 2),
        mean_dance_duration_s: mean((dance) => dance.dance_duration_s, 2),
        mean_circuits_per_15s: mean((dance) => dance.circuits_per_15s, 3),
        mean_return_s: mean((dance) => dance.mean_return_s, 3),
        begging_calls: begging,
        begging_calls_per_min: danceMin > 0 ? rounded(begging / danceMin, 3) : null,
      },
    ];
  });
}

/** Minutes recorded in each hour of the day. */
function recordedMinutes(recorded: readonly ClockSpan[]): number[] {
  const minutes = new Array<number>(24).fill(0);
  for (const { startHour, durationS } of recorded) {
    const end = startHour + durationS / 3600;
    for (let hour = Math.floor(startHour); hour < end; hour++) {
      const inside = Math.min(end, hour + 1) - Math.max(startHour, hour);
      minutes[hour % 24]! += 60 * inside;
    }
  }
  return minutes;
}
