import { instantOf, withOffset } from '../bearing/local-time.ts';
import { sunPosition } from '../bearing/sun.ts';
import { InputError } from '../input-error.ts';
import { type AngleObservationRow, angleObservationSchema } from './bearings-tables.ts';
import { readTable } from './csv.ts';
import type { FeederPlace, HivePlace } from './places.ts';
import { observationSchema } from './tables.ts';

/** A run with its comb angle, and the sun at its time. */
export interface ObservedAngle {
  /** null where the angle was not read. */
  readonly combAngleDeg: number | null;
  readonly sunAzimuthDeg: number;
  readonly sunElevationDeg: number;
}

/** A dance as its angles were read, the runs in file order. */
export interface AngledDance {
  readonly danceId: string;
  readonly beeId: string | null;
  readonly feederId: string | null;
  readonly treatment: string | null;
  /** Of the first run that has one, with its offset from UTC where it is known. */
  readonly startTime: string;
  readonly runs: readonly ObservedAngle[];
  readonly flags: readonly string[];
}

// The sun's centre at the end of civil twilight. Bees dance on a little after sunset, but not by night.
const nightDeg = -6;

interface PlacedRow {
  readonly row: AngleObservationRow;
  readonly line: number;
}

/**
 * Reads comb angles, one row per run; a run without a start_time has that of the run before it in its dance.
 *
 * @param feeders known places; null when none were given, and then feeder_id may be anything
 * @throws InputError, with the row, for an angle that is none, a time that is none or needs a time zone, a dance
 *   without a time or by night (a wrong clock or time zone), a feeder_id that is not among the feeders, and a
 *   dance with two feeders
 */
export async function readAngles(
  file: string,
  hive: HivePlace,
  feeders: readonly FeederPlace[] | null,
): Promise<AngledDance[]> {
  const table = await readTable(file, angleObservationSchema, {
    wanted: ['comb_angle_deg', 'start_time'],
    beside: Object.keys(observationSchema.shape),
  });
  if (table.length === 0) {
    throw new InputError({ file, found: 'a header and no rows', wanted: 'one row for each run' });
  }
  const byDance = new Map<string, PlacedRow[]>();
  for (const placed of table) {
    const rows = byDance.get(placed.row.dance_id);
    if (rows === undefined) byDance.set(placed.row.dance_id, [placed]);
    else rows.push(placed);
  }
  return [...byDance].map(([danceId, rows]) => readDance(file, danceId, rows, hive, feeders));
}

function readDance(
  file: string,
  danceId: string,
  rows: readonly PlacedRow[],
  hive: HivePlace,
  feeders: readonly FeederPlace[] | null,
): AngledDance {
  const first = rows[0];
  const timed = rows.find(({ row }) => row.start_time !== null);
  if (timed === undefined) {
    throw new InputError({
      file,
      place: `row ${first.line}, column start_time`,
      found: `no time in any row of dance ${danceId}`,
      wanted: 'the clock time of each run, or of its dance in one of its rows',
    });
  }
  const flags = new Set<string>();
  let current = timed;
  const runs = rows.map((placed) => {
    if (placed.row.start_time !== null) current = placed;
    const sun = sunOf(file, current, hive);
    if (sun.note !== null) flags.add(sun.note);
    const { azimuthDeg, elevationDeg } = sun;
    return {
      combAngleDeg: placed.row.comb_angle_deg,
      sunAzimuthDeg: azimuthDeg,
      sunElevationDeg: elevationDeg,
    };
  });
  return {
    danceId,
    beeId: oneOf(file, danceId, rows, 'bee_id'),
    feederId: knownFeeder(file, danceId, rows, feeders),
    treatment: oneOf(file, danceId, rows, 'treatment'),
    startTime: withOffset(timed.row.start_time!, hive.timeZone),
    runs,
    flags: [...flags],
  };
}

function sunOf(file: string, { row, line }: PlacedRow, { site, timeZone }: HivePlace) {
  const place = `row ${line}, column start_time`;
  const reading = instantOf(row.start_time!, timeZone);
  if (!reading.ok) throw new InputError({ file, place, found: reading.found, wanted: reading.wanted });
  const sun = sunPosition(site, reading.instant);
  if (sun.elevationDeg < nightDeg) {
    const depth = (-sun.elevationDeg).toFixed(1);
    throw new InputError({
      file,
      place,
      found: `${JSON.stringify(row.start_time)}, when the sun was ${depth}° below the horizon at the hive`,
      wanted: 'a dance by day: the clock, the time zone or the hive’s coordinates are wrong',
    });
  }
  return { ...sun, note: reading.note };
}

/** The one value in a column that a dance's rows share; rows without one go with the others. */
function oneOf(
  file: string,
  danceId: string,
  rows: readonly PlacedRow[],
  column: 'bee_id' | 'feeder_id' | 'treatment',
): string | null {
  const telling = rows.filter(({ row }) => row[column] !== null);
  const other = telling.find(({ row }) => row[column] !== telling[0].row[column]);
  if (other !== undefined) {
    throw new InputError({
      file,
      place: `row ${other.line}, column ${column}`,
      found: `${JSON.stringify(other.row[column])} for dance ${danceId}, but ${JSON.stringify(telling[0].row[column])} in row ${telling[0].line}`,
      wanted: `one ${column} for each dance`,
    });
  }
  return telling[0]?.row[column] ?? null;
}

function knownFeeder(
  file: string,
  danceId: string,
  rows: readonly PlacedRow[],
  feeders: readonly FeederPlace[] | null,
): string | null {
  const name = oneOf(file, danceId, rows, 'feeder_id');
  if (name === null || feeders === null || feeders.some(({ feederId }) => feederId === name)) return name;
  const { line } = rows.find(({ row }) => row.feeder_id === name)!;
  throw new InputError({
    file,
    place: `row ${line}, column feeder_id`,
    found: `feeder ${JSON.stringify(name)}, which is not in the table of feeders`,
    wanted: `one of: ${feeders.map(({ feederId }) => feederId).join(', ')}`,
  });
}
