import { DateTime } from 'luxon';
import { z } from 'zod';
import { InputError } from '../input-error.ts';
import { readTable } from './csv.ts';
import type { LikelyFeeder } from './study-dances.ts';
import type { Opening } from './study-schemas.ts';

/** openings.csv: when each feeder was open. */
export const openingTableSchema = z.object({ feeder_id: z.string(), start: z.string(), end: z.string() });

/** A point in time, ms; `local` where neither offset nor zone is known, so that only others such compare with it. */
interface Instant {
  readonly ms: number;
  readonly local: boolean;
}

/**
 * The instant that a clock time means.
 *
 * @param text ISO 8601, with or without offset
 * @param timeZone IANA name in which times without offset are read; null leaves them local
 * @returns null when it is no time
 */
function instantOf(text: string, timeZone: string | null): Instant | null {
  const hasOffset = /(Z|[+-]\d{2}(:?\d{2})?)$/i.test(text.replace(/^\d{4}-\d{2}-\d{2}/, ''));
  const time = DateTime.fromISO(text.trim().replace(' ', 'T'), { zone: timeZone ?? 'utc' });
  if (!time.isValid) return null;
  return { ms: time.toMillis(), local: !hasOffset && timeZone === null };
}

/**
 * Reads openings.csv.
 *
 * @param feederIds the feeders there are
 * @throws InputError for a feeder that is not in feeders.csv, a time that is none, an end not after its start
 */
export async function readOpenings(
  file: string,
  feederIds: readonly string[],
  timeZone: string | null,
): Promise<Opening[]> {
  return (await readTable(file, openingTableSchema, { beside: [] })).map(({ row, line }) => {
    const refuse = (column: string, found: string, wanted: string) =>
      new InputError({ file, place: `row ${line}, column ${column}`, found, wanted });
    if (!feederIds.includes(row.feeder_id)) {
      throw refuse('feeder_id', JSON.stringify(row.feeder_id), 'a feeder of feeders.csv');
    }
    const [start, end] = (['start', 'end'] as const).map((column) => {
      const instant = instantOf(row[column], timeZone);
      if (instant !== null) return instant;
      throw refuse(column, JSON.stringify(row[column]), 'a time such as 2031-06-14T09:30:00+02:00');
    }) as [Instant, Instant];
    if (start.local !== end.local) {
      throw refuse('end', JSON.stringify(row.end), 'an offset from UTC in both times or in neither');
    }
    if (end.ms <= start.ms) throw refuse('end', JSON.stringify(row.end), 'a time after the start');
    return { feederId: row.feeder_id, start: row.start, end: row.end };
  });
}

/**
 * The feeder that was open when a dance was danced: the middle of the dance must lie in the opening. Where several
 * were open none is likely, and they are named as a conflict. Times that cannot be compared, one with an offset
 * and one without, match nothing.
 *
 * @param startTime clock time of the recording's start; null when it is unknown
 * @param startS,endS of the dance, from the recording's start
 */
export function likelyFeederFinder(
  openings: readonly Opening[],
  startTime: string | null,
  timeZone: string | null,
): (startS: number, endS: number) => LikelyFeeder {
  const begin = startTime === null ? null : instantOf(startTime, timeZone);
  const spans = openings.map((opening) => ({
    feederId: opening.feederId,
    start: instantOf(opening.start, timeZone)!,
    end: instantOf(opening.end, timeZone)!,
  }));
  return (startS, endS) => {
    if (begin === null) return { feederId: null, conflict: [] };
    const ms = begin.ms + 500 * (startS + endS);
    const open = spans.filter(
      ({ start, end }) => start.local === begin.local && ms >= start.ms && ms < end.ms,
    );
    const feeders = [...new Set(open.map(({ feederId }) => feederId))];
    return feeders.length > 1
      ? { feederId: null, conflict: feeders }
      : { feederId: feeders[0] ?? null, conflict: [] };
  };
}
