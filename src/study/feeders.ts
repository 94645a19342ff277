import { z } from 'zod';
import { distanceAndBearing } from '../bearing/geodesy.ts';
import type { Site } from '../bearing/sun.ts';
import { InputError } from '../input-error.ts';
import { readTable } from './csv.ts';
import { feederDoubt } from './feeder-doubts.ts';
import type { Feeder } from './study-schemas.ts';
import { warnOnce } from './warn.ts';

/** feeders.csv: distance_m and bearing_deg, or latitude and longitude. */
export const feederTableSchema = z.object({
  feeder_id: z.string(),
  distance_m: z.number().gt(0, 'metres above 0').max(20_000, 'metres, at most 20000').nullable(),
  bearing_deg: z.number().min(0, 'degrees from 0').max(360, 'degrees, at most 360').nullable(),
  latitude: z.number().min(-90, 'degrees from -90').max(90, 'degrees, at most 90').nullable(),
  longitude: z.number().min(-180, 'degrees from -180').max(180, 'degrees, at most 180').nullable(),
  paint_mark: z.string().nullable(),
});

/** Which column for the places of feeders is missing, by which there are. */
export function missingPlaceColumn(has: (column: string) => boolean): string | null {
  if (has('latitude') !== has('longitude')) return has('latitude') ? 'longitude' : 'latitude';
  return has('distance_m') || has('latitude') ? null : 'distance_m, or latitude and longitude';
}

/** What a notes sheet has for the feeder of a dance to a place that nobody knows; no feeder is called so. */
export const noFeeder = 'none';

/** What is asked of the name of a feeder beside that. */
export const feederNameWanted = `another name: ${noFeeder} says of a dance that it is to no feeder`;

/**
 * Reads feeders.csv. A feeder given by coordinates alone has no distance here. Coordinates that are doubtful are told
 * of on stderr.
 *
 * @param hive null where it is not known
 * @throws InputError for a feeder named twice or `none`, or one without a distance and without both coordinates
 */
export async function readFeeders(file: string, hive: Site | null): Promise<Feeder[]> {
  const seen = new Map<string, number>();
  const table = await readTable(file, feederTableSchema, { missing: missingPlaceColumn, beside: [] });
  return table.map(({ row, line }) => {
    const place = (column: string) => ({ file, place: `row ${line}, column ${column}` });
    const first = seen.get(row.feeder_id);
    if (first !== undefined) {
      const found = `${JSON.stringify(row.feeder_id)} again, as in row ${first}`;
      throw new InputError({ ...place('feeder_id'), found, wanted: 'each feeder once' });
    }
    seen.set(row.feeder_id, line);
    if (row.feeder_id === noFeeder) {
      const found = JSON.stringify(noFeeder);
      throw new InputError({ ...place('feeder_id'), found, wanted: feederNameWanted });
    }
    const half = (row.latitude === null) !== (row.longitude === null);
    if (half || (row.distance_m === null && row.latitude === null)) {
      const missing = half ? (row.latitude === null ? 'latitude' : 'longitude') : 'distance_m';
      throw new InputError({
        ...place(missing),
        found: 'an empty cell',
        wanted: 'distance_m (and bearing_deg), or both latitude and longitude',
      });
    }
    const doubt = hive === null ? null : feederDoubt(hive, row);
    if (doubt !== null) warnOnce(`${file}, row ${line}: ${doubt}`);
    return {
      feederId: row.feeder_id,
      distanceM: row.distance_m,
      bearingDeg: row.bearing_deg,
      latitude: row.latitude,
      longitude: row.longitude,
      paintMark: row.paint_mark,
    };
  });
}

/** A feeder with distance and bearing from the hive where its coordinates tell them; they outdo what was paced. */
export function measuredFeeder(hive: Site, feeder: Feeder): Feeder {
  const { latitude, longitude } = feeder;
  if (latitude === null || longitude === null) return feeder;
  const { distanceM, bearingDeg } = distanceAndBearing(hive, {
    latitudeDeg: latitude,
    longitudeDeg: longitude,
  });
  return { ...feeder, distanceM: rounded(distanceM, 2), bearingDeg: rounded(bearingDeg, 4) };
}

const rounded = (value: number, decimals: number): number => Number(value.toFixed(decimals));
