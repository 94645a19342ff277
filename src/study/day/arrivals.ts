import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';
import { instantOf, withOffset } from '../../bearing/local-time.ts';
import { InputError } from '../../input-error.ts';
import { readTable } from '../csv.ts';
import { arrivalsFile } from '../study-files.ts';
import type { OpenStudy } from '../study-folder.ts';

/** arrivals.csv: bees that came to a feeder. */
export const arrivalTableSchema = z.object({
  time: z.string(),
  feeder_id: z.string(),
  mark: z.string().nullable(),
});

/** A bee's arrival at a feeder. */
export interface Arrival {
  /** As the table gives it. */
  readonly time: string;
  /** Milliseconds since 1970-01-01T00:00Z. */
  readonly instant: number;
  readonly feederId: string;
  /** Paint mark; null for a bee without one. */
  readonly mark: string | null;
}

/**
 * Reads arrivals.csv, in order of time.
 *
 * @param timeZone IANA name in which times without an offset from UTC are read; null where it is not known
 * @throws InputError, with row and column, for a time that is none or needs a time zone, and for a feeder that is not
 *   in feeders.csv
 */
async function readArrivals(
  file: string,
  feederIds: readonly string[],
  timeZone: string | null,
): Promise<Arrival[]> {
  const arrivals = (await readTable(file, arrivalTableSchema, { beside: [] })).map(
    ({ row, line }): Arrival => {
      const refuse = (column: string, found: string, wanted: string) =>
        new InputError({ file, place: `row ${line}, column ${column}`, found, wanted });
      const reading = instantOf(row.time, timeZone);
      if (!reading.ok) throw refuse('time', reading.found, reading.wanted);
      if (!feederIds.includes(row.feeder_id)) {
        throw refuse('feeder_id', JSON.stringify(row.feeder_id), 'a feeder of feeders.csv');
      }
      return {
        time: withOffset(row.time, timeZone),
        instant: reading.instant,
        feederId: row.feeder_id,
        mark: row.mark,
      };
    },
  );
  return arrivals.toSorted((a, b) => a.instant - b.instant);
}

/** The arrivals of a study; none where it has no arrivals.csv. */
export async function studyArrivals(
  { folder, settings }: OpenStudy,
  feederIds: readonly string[],
): Promise<Arrival[]> {
  const file = join(folder, arrivalsFile);
  return existsSync(file) ? readArrivals(file, feederIds, settings.hive.timeZone) : [];
}
