import { z } from 'zod';
import { InputError } from '../input-error.ts';
import { angleObservationSchema } from './bearings-tables.ts';
import { readTable } from './csv.ts';
import { referenceTreatments } from './reference-treatment.ts';
import { type ObservationRow, observationSchema } from './tables.ts';

/** One dance of an observations table: its rows gathered, one entry per run in file order. */
export interface ObservedDance {
  readonly danceId: string;
  readonly beeId: string | null;
  readonly distanceM: number | null;
  readonly treatment: string | null;
  readonly durationsS: readonly (number | null)[];
  readonly circuitsPer15s: readonly (number | null)[];
}

/** A table of observations, its rows as they stand and gathered into dances. */
export interface Observations {
  readonly file: string;
  readonly rows: readonly ObservationRow[];
  /** In the order in which their first rows stand. */
  readonly dances: readonly ObservedDance[];
}

// Wide of any bee: beyond these the cell is in another unit, and a curve through it would be nonsense.
const farthestM = 12_000;
const longestS = 60;
const mostCircuits = 60;

const above0To = (most: number, wanted: string) => z.number().gt(0, wanted).max(most, wanted);

const estimatedSchema = observationSchema.extend({
  dance_id: z.string({ error: 'a dance_id in every row' }),
  duration_s: above0To(longestS, `seconds above 0, at most ${longestS}`).nullable(),
  circuits_per_15s: above0To(mostCircuits, `circuits above 0, at most ${mostCircuits}`).nullable(),
});
const calibratingSchema = estimatedSchema.extend({
  distance_m: above0To(farthestM, `metres above 0, at most ${farthestM}`),
});

/** Columns that a table of runs may have for other commands. */
const beside = ['distance_m', ...Object.keys(angleObservationSchema.shape)];

/**
 * Reads observations.csv: one row per run, the rows of a dance in the order danced.
 *
 * @param purpose 'calibrating' wants a distance_m in every row, 'estimating' passes it over
 * @throws InputError for a missing column, a cell that is no number or cannot be, a table without rows or
 *   without any time, and a dance_id with two bees, distances or treatments; it names the row
 */
export async function readObservations(
  file: string,
  purpose: 'calibrating' | 'estimating',
): Promise<Observations> {
  const table =
    purpose === 'calibrating'
      ? await readTable(file, calibratingSchema, { beside })
      : (await readTable(file, estimatedSchema.omit({ distance_m: true }), { beside })).map(
          ({ row, line }) => ({
            row: { ...row, distance_m: null },
            line,
          }),
        );
  return observationsOf(file, table);
}

/** A run as a script gives it: a row of observations.csv, in which what is not known may be left out. */
export type RunRow = Pick<ObservationRow, 'dance_id'> & Partial<ObservationRow>;

/**
 * The same of rows that are in memory already.
 *
 * @param rows one per run, the rows of a dance in the order danced
 * @throws InputError as `readObservations`, naming the row, counted from 1
 */
export function observationsOfRows(
  rows: readonly RunRow[],
  purpose: 'calibrating' | 'estimating',
): Observations {
  const file = 'observations';
  if (rows.length === 0) throw new InputError({ file, found: 'no rows', wanted: 'one row for each run' });
  const schema = purpose === 'calibrating' ? calibratingSchema : estimatedSchema;
  const table = rows.map((row, index): PlacedRow => {
    const given = purpose === 'calibrating' ? row : { ...row, distance_m: null };
    const read = schema.safeParse({ ...emptyRow, ...given });
    if (read.success) return { row: read.data, line: index + 1 };
    const issue = read.error.issues[0]!;
    const column = String(issue.path[0] ?? 'dance_id');
    throw new InputError({
      file,
      place: `row ${index + 1}, column ${column}`,
      found: JSON.stringify(row[column as keyof RunRow] ?? null),
      wanted: issue.code === 'invalid_type' ? `a ${issue.expected}` : issue.message,
    });
  });
  return observationsOf(file, table);
}

const emptyRow = {
  bee_id: null,
  distance_m: null,
  duration_s: null,
  circuits_per_15s: null,
  treatment: null,
};

function observationsOf(file: string, table: readonly PlacedRow[]): Observations {
  if (table.length === 0) {
    throw new InputError({ file, found: 'a header and no rows', wanted: 'one row for each run' });
  }
  if (table.every(({ row }) => row.duration_s === null && row.circuits_per_15s === null)) {
    throw new InputError({
      file,
      found: 'no value under duration_s or circuits_per_15s',
      wanted: 'at least one of these columns, filled in',
    });
  }
  return { file, rows: table.map(({ row }) => row), dances: gather(file, table) };
}

interface PlacedRow {
  readonly row: ObservationRow;
  readonly line: number;
}

function gather(file: string, table: readonly PlacedRow[]): ObservedDance[] {
  const byDance = new Map<string, PlacedRow[]>();
  for (const placed of table) {
    const rows = byDance.get(placed.row.dance_id);
    if (rows === undefined) byDance.set(placed.row.dance_id, [placed]);
    else rows.push(placed);
  }
  return [...byDance].map(([danceId, rows]) => ({
    danceId,
    beeId: oneValue(file, danceId, rows, 'bee_id', 'one bee for each dance'),
    distanceM: oneValue(file, danceId, rows, 'distance_m', 'one distance for each dance'),
    treatment: oneValue(file, danceId, rows, 'treatment', 'one treatment for each dance, in all its rows'),
    durationsS: rows.map(({ row }) => row.duration_s),
    circuitsPer15s: rows.map(({ row }) => row.circuits_per_15s),
  }));
}

/** The one value that the rows of a dance have in a column. A bee not named in some rows is named by the others. */
function oneValue<C extends 'bee_id' | 'distance_m' | 'treatment'>(
  file: string,
  danceId: string,
  rows: readonly PlacedRow[],
  column: C,
  wanted: string,
): ObservationRow[C] {
  const telling = column === 'bee_id' ? rows.filter(({ row }) => row.bee_id !== null) : rows;
  if (telling.length === 0) return null as ObservationRow[C];
  const first = telling[0];
  const other = telling.find(({ row }) => row[column] !== first.row[column]);
  if (other === undefined) return first.row[column];
  const shown = (value: unknown) => (value === null ? 'an empty cell' : JSON.stringify(value));
  throw new InputError({
    file,
    place: `row ${other.line}, column ${column}`,
    found: `${shown(other.row[column])} for dance ${danceId}, but ${shown(first.row[column])} in row ${first.line}`,
    wanted,
  });
}

/** The dances of one treatment: those a curve is fitted to. */
export interface Reference {
  /** The treatment's name; null for dances without one. */
  readonly name: string | null;
  readonly dances: readonly ObservedDance[];
}

/**
 * Picks the dances of the reference treatment. Without a name: those whose treatment is empty or 'reference';
 * failing those, all dances if they share one treatment.
 *
 * @throws InputError when the name is not in the table, or none is given and several treatments could be meant
 */
export function referenceDances(observations: Observations, name?: string): Reference {
  const { file, dances } = observations;
  if (dances.length === 0) {
    throw new InputError({
      file,
      found: 'no dance tied to a feeder of known distance',
      wanted: 'dances at feeders, with a treatment noted of some',
    });
  }
  const treatments = [...new Set(dances.map(({ treatment }) => treatment))];
  const listed = treatments.map((treatment) => treatment ?? '(empty)').join(', ');
  if (name !== undefined) {
    const chosen = dances.filter(({ treatment }) => treatment === name);
    if (chosen.length > 0) return { name, dances: chosen };
    throw new InputError({
      file: '--reference',
      found: `"${name}", a treatment that no dance has in ${file}`,
      wanted: `one of: ${listed}`,
    });
  }
  const meant = referenceTreatments(treatments);
  if (meant.size > 0) {
    const [named = null] = [...meant].filter((treatment) => treatment !== null);
    return { name: named, dances: dances.filter(({ treatment }) => meant.has(treatment)) };
  }
  throw new InputError({
    file,
    place: 'column treatment',
    found: `several treatments and none called reference (${listed})`,
    wanted: '--reference with the one that the curve is to be fitted to',
  });
}
