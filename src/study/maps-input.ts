import { within360 } from '../bearing/angles.ts';
import { type Direction, directionOfInterval } from '../bearing/direction.ts';
import { type DistanceDensity, densityOfInterval, distanceLookup } from '../bearing/distance-density.ts';
import { InputError } from '../input-error.ts';
import { readTable } from './csv.ts';
import {
  type MapBearingRow,
  type MapEstimateRow,
  mapBearingSchema,
  mapEstimateSchema,
  mapPosteriorSchema,
} from './maps-tables.ts';

/** A dance with all that its place is reckoned from. */
export interface MapDance {
  readonly estimate: MapEstimateRow;
  /** null where the dance has no distance to be mapped. */
  readonly distance: DistanceDensity | null;
  readonly bearing: MapBearingRow;
  readonly direction: Direction;
}

interface Placed<T> {
  readonly row: T;
  readonly line: number;
}

/**
 * Reads estimates and bearings, and pairs them by dance_id.
 *
 * @param posteriors table of posteriors of distance; a dance in it is mapped by them rather than its interval
 * @throws InputError, with the row, for a dance without a bearing or its interval, a distance without an interval
 *   or outside it, a dance_id that stands twice, and a posterior that is none
 */
export async function readMapDances(
  estimates: string,
  bearings: string,
  posteriors?: string,
): Promise<MapDance[]> {
  const rows = await readTable(estimates, mapEstimateSchema, {
    wanted: ['distance_m', 'distance_low_m', 'distance_high_m'],
  });
  if (rows.length === 0) {
    throw new InputError({
      file: estimates,
      found: 'a header and no rows',
      wanted: 'one row for each dance',
    });
  }
  const wanted = ['bearing_deg', 'bearing_low_deg', 'bearing_high_deg', 'level'] as const;
  const bearingOf = byDance(bearings, await readTable(bearings, mapBearingSchema, { wanted }));
  const densityOf = posteriors === undefined ? new Map() : await readPosteriors(posteriors);
  byDance(estimates, rows);
  return rows.map((placed) => {
    const { row: estimate, line } = placed;
    const paired = bearingOf.get(estimate.dance_id);
    if (paired === undefined) {
      throw new InputError({
        file: estimates,
        place: `row ${line}, column dance_id`,
        found: `dance ${estimate.dance_id}, which has no row in ${bearings}`,
        wanted: 'a bearing for each dance to be mapped',
      });
    }
    return {
      estimate,
      distance: densityOf.get(estimate.dance_id) ?? distanceOf(estimates, placed),
      bearing: paired.row,
      direction: directionOf(bearings, paired),
    };
  });
}

function byDance<T extends { dance_id: string }>(
  file: string,
  rows: readonly Placed<T>[],
): Map<string, Placed<T>> {
  const byId = new Map<string, Placed<T>>();
  for (const placed of rows) {
    const id = placed.row.dance_id;
    const earlier = byId.get(id);
    if (earlier !== undefined) {
      throw new InputError({
        file,
        place: `row ${placed.line}, column dance_id`,
        found: `dance ${id}, which row ${earlier.line} has already`,
        wanted: 'one row for each dance',
      });
    }
    byId.set(id, placed);
  }
  return byId;
}

function distanceOf(file: string, { row, line }: Placed<MapEstimateRow>): DistanceDensity | null {
  const { distance_m: medianM, distance_low_m: lowM, distance_high_m: highM, level } = row;
  if (medianM === null) return null;
  const refuse = (column: string, found: string, wanted: string): never => {
    throw new InputError({ file, place: `row ${line}, column ${column}`, found, wanted });
  };
  if (lowM === null) return refuse('distance_low_m', 'an empty cell', 'the interval of the distance');
  if (highM === null) return refuse('distance_high_m', 'an empty cell', 'the interval of the distance');
  if (level === null)
    return refuse('level', 'an empty cell', 'the probability of the interval, between 0 and 1');
  if (!(lowM < medianM && medianM < highM)) {
    return refuse(
      'distance_m',
      `${medianM} m with the interval ${lowM} to ${highM} m`,
      'a distance inside its interval',
    );
  }
  return densityOfInterval({ medianM, lowM, highM, level });
}

function directionOf(file: string, { row, line }: Placed<MapBearingRow>): Direction {
  const { bearing_deg: mean, bearing_low_deg: low, bearing_high_deg: high, level } = row;
  const refuse = (column: string, found: string, wanted: string): never => {
    const why = row.flags === null ? '' : ` (${row.flags})`;
    throw new InputError({ file, place: `row ${line}, column ${column}`, found: `${found}${why}`, wanted });
  };
  const dance = `for dance ${row.dance_id}`;
  if (mean === null)
    return refuse('bearing_deg', `no bearing ${dance}`, 'a bearing for each dance to be mapped');
  if (low === null || high === null) {
    const wanted = 'the interval of the bearing; without it the place has no bounds';
    return refuse(low === null ? 'bearing_low_deg' : 'bearing_high_deg', `an empty cell ${dance}`, wanted);
  }
  if (level === null)
    return refuse('level', 'an empty cell', 'the probability of the interval, between 0 and 1');
  const below = within360(mean - low);
  const above = within360(high - mean);
  const halfWidth = (below + above) / 2;
  if (!(halfWidth > 0 && halfWidth <= 180) || Math.abs(below - above) > 2) {
    const wanted = 'an interval with the bearing in its middle, low to high clockwise';
    return refuse('bearing_low_deg', `${low} to ${high} about ${mean}`, wanted);
  }
  return directionOfInterval(mean, halfWidth, level, row.direction_dof ?? Number.POSITIVE_INFINITY);
}

async function readPosteriors(file: string): Promise<Map<string, DistanceDensity>> {
  const grids = new Map<string, { distanceM: number[]; density: number[]; line: number }>();
  for (const { row, line } of await readTable(file, mapPosteriorSchema)) {
    const grid = grids.get(row.dance_id) ?? { distanceM: [], density: [], line };
    grid.distanceM.push(row.distance_m);
    grid.density.push(row.density);
    grids.set(row.dance_id, grid);
  }
  for (const [danceId, grid] of grids) {
    try {
      distanceLookup(grid);
    } catch (error) {
      if (!(error instanceof RangeError)) throw error;
      throw new InputError({
        file,
        place: `row ${grid.line} on, dance ${danceId}`,
        found: error.message,
        wanted: 'rising distances with densities of which some are above 0',
      });
    }
  }
  return grids;
}
