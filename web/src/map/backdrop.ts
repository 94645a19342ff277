import { radians } from '../../../src/bearing/angles.ts';
import { distanceAndBearing } from '../../../src/bearing/geodesy.ts';

/** A user's own map under the contours, in metres east and north of the hive. */
export interface Backdrop {
  readonly name: string;
  /** Lines and rings; null parts one from the next. */
  readonly lines: readonly (readonly [number, number] | null)[];
  readonly points: readonly (readonly [number, number])[];
  readonly count: number;
}

interface Hive {
  readonly latitude: number;
  readonly longitude: number;
}

const MOST_PLACES = 200_000;
const WANTED = 'wanted GeoJSON in longitude and latitude (RFC 7946)';

/** What is wrong with a backdrop, in one line. */
export class BackdropError extends Error {}

/** A line, a ring, or a single place, and where in the file it stands. */
interface Part {
  readonly kind: 'line' | 'point';
  readonly positions: readonly unknown[];
  readonly where: string;
}

const shown = (value: unknown): string => JSON.stringify(value)?.slice(0, 60) ?? 'nothing';

function listed(value: unknown, where: string): readonly unknown[] {
  if (Array.isArray(value)) return value;
  throw new BackdropError(`${where}: found ${shown(value)} for a list; ${WANTED}`);
}

/** Lists within lists, down to lists of positions. */
function* linesOf(value: unknown, depth: number, where: string): Generator<Part> {
  if (depth === 0) yield { kind: 'line', positions: listed(value, where), where };
  else for (const one of listed(value, where)) yield* linesOf(one, depth - 1, where);
}

const LINE_DEPTHS: Readonly<Record<string, number>> = {
  LineString: 0,
  MultiLineString: 1,
  Polygon: 1,
  MultiPolygon: 2,
};

function* partsOf(value: unknown, where: string): Generator<Part> {
  const { type, coordinates, features, geometry, geometries } = (value ?? {}) as Record<string, unknown>;
  const depth = LINE_DEPTHS[String(type)];
  if (type === 'FeatureCollection') {
    for (const [k, one] of listed(features, where).entries())
      yield* partsOf(one, `${where}, feature ${k + 1}`);
  } else if (type === 'Feature') {
    if (geometry !== null) yield* partsOf(geometry, where);
  } else if (type === 'GeometryCollection') {
    for (const one of listed(geometries, where)) yield* partsOf(one, where);
  } else if (type === 'Point') {
    yield { kind: 'point', positions: [coordinates], where };
  } else if (type === 'MultiPoint') {
    yield { kind: 'point', positions: listed(coordinates, where), where };
  } else if (depth !== undefined) {
    yield* linesOf(coordinates, depth, where);
  } else {
    throw new BackdropError(`${where}: found the type ${shown(type)}; ${WANTED}`);
  }
}

function metresOf(position: unknown, { latitude, longitude }: Hive, where: string): [number, number] {
  const [east, north] = Array.isArray(position) ? (position as unknown[]) : [];
  const known = typeof east === 'number' && typeof north === 'number';
  if (!known || !(Math.abs(north) <= 90) || !(Math.abs(east) <= 180)) {
    throw new BackdropError(`${where}: found the position ${shown(position)}; ${WANTED}`);
  }
  const site = { latitudeDeg: latitude, longitudeDeg: longitude };
  const { distanceM, bearingDeg } = distanceAndBearing(site, { latitudeDeg: north, longitudeDeg: east });
  return [distanceM * Math.sin(radians(bearingDeg)), distanceM * Math.cos(radians(bearingDeg))];
}

/**
 * A backdrop from the text of a GeoJSON file. Points, lines and polygons are taken, properties are not looked at;
 * places are put where their distance and bearing from the hive are true (WGS84).
 *
 * @throws BackdropError naming the file, the place in it, what was found and what is wanted
 */
export function backdropOf(name: string, text: string, hive: Hive): Backdrop {
  let whole: unknown;
  try {
    whole = JSON.parse(text);
  } catch {
    throw new BackdropError(`${name}: found no JSON; ${WANTED}`);
  }
  const lines: ([number, number] | null)[] = [];
  const points: [number, number][] = [];
  let count = 0;
  for (const { kind, positions, where } of partsOf(whole, name)) {
    count += positions.length;
    if (count > MOST_PLACES) {
      throw new BackdropError(`${name}: found more than ${MOST_PLACES} positions; wanted a simpler outline`);
    }
    const placed = positions.map((position) => metresOf(position, hive, where));
    if (kind === 'point') points.push(...placed);
    else lines.push(...(lines.length > 0 ? [null] : []), ...placed);
  }
  if (count === 0) throw new BackdropError(`${name}: found no position in it; ${WANTED}`);
  return { name, lines, points, count };
}
