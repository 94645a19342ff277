import { medianOf } from '../../signal/quantile.ts';
import { counted } from '../counted.ts';
import { cell, textTable } from '../text-table.ts';
import type { ArrivalLatencyRow } from './day-tables.ts';
import type { StudyDay } from './study-day.ts';

/** A study over the day, for people to read. */
export function dayText(day: StudyDay): string {
  const { hours, clock, unclocked, cautions, dances, arrivals, windowMin } = day;
  const unhoured = dances.filter(({ hour }) => hour === null).length;
  const parts = [
    hours.length === 0
      ? 'Nothing was recorded at a known time.'
      : textTable([hourHeader, ...hours.map((row) => hourCells(row))]),
    ...(unhoured === 0
      ? []
      : [
          `No hour: ${counted(unhoured, 'dance')}, of ${counted(unclocked, 'recording')} without a start time.`,
        ]),
    `Clock and comb\n${clock.words.join('\n')}`,
    ...(arrivals.length === 0 ? [] : [arrivalsText(arrivals, windowMin)]),
    ...cautions,
  ];
  return `${parts.join('\n\n')}\n`;
}

/** Heads of the columns of `hourCells`. */
export const hourHeader = [
  'hour',
  'recorded min',
  'dances',
  'dances per h',
  'runs a dance',
  'dance s',
  'circuits per 15 s',
  'return s',
  'begging calls',
  'begging calls per min of dance',
] as const;

/** The cells of one hour, an empty one where nothing is known. */
export function hourCells(row: StudyDay['hours'][number]): string[] {
  return [
    `${String(row.hour).padStart(2, '0')}:00`,
    cell(row.recorded_min, 1),
    String(row.dances),
    cell(row.dances_per_hour, 1),
    cell(row.mean_run_count, 1),
    cell(row.mean_dance_duration_s, 1),
    cell(row.mean_circuits_per_15s, 2),
    cell(row.mean_return_s, 2),
    String(row.begging_calls),
    cell(row.begging_calls_per_min, 2),
  ];
}

export const arrivalHeader = [
  'feeder',
  'arrivals',
  'recruits',
  'after a dance',
  'median latency of recruits s',
] as const;

/** One line per feeder. */
export function arrivalCells(arrivals: readonly ArrivalLatencyRow[]): string[][] {
  const feeders = [...new Set(arrivals.map(({ feeder_id }) => feeder_id))];
  return feeders.map((feeder) => {
    const own = arrivals.filter(({ feeder_id }) => feeder_id === feeder);
    const recruits = own.filter(({ recruit }) => recruit);
    const latencies = recruits.flatMap(({ latency_s }) => latency_s ?? []);
    const median = latencies.length === 0 ? '' : medianOf(latencies).toFixed(0);
    return [feeder, String(own.length), String(recruits.length), String(latencies.length), median];
  });
}

function arrivalsText(arrivals: readonly ArrivalLatencyRow[], windowMin: number): string {
  return `Arrivals at feeders, after dances for them within ${windowMin} min\n${textTable([[...arrivalHeader], ...arrivalCells(arrivals)])}`;
}
