import geodesic from 'geographiclib-geodesic';
import { within360 } from './angles.ts';
import type { Site } from './sun.ts';

// A CommonJS package: its names come through the default export.
const wgs84 = geodesic.Geodesic.WGS84;

/** A point on the WGS84 ellipsoid, degrees. */
export interface Point {
  readonly latitudeDeg: number;
  /** −180 to 180. */
  readonly longitudeDeg: number;
}

/**
 * The point at a distance along the geodesic that leaves the hive at a bearing, on WGS84.
 * Karney 2013, J Geod 87:43, by geographiclib-geodesic.
 *
 * @param bearingDeg clockwise from true north
 */
export function goalOf(hive: Site, bearingDeg: number, distanceM: number): Point {
  const { lat2, lon2 } = wgs84.Direct(hive.latitudeDeg, hive.longitudeDeg, bearingDeg, distanceM);
  return { latitudeDeg: lat2!, longitudeDeg: lon2! };
}

/** Distance (m) and bearing at the hive (degrees, 0 to 360) of a point, by the shortest geodesic on WGS84. */
export function distanceAndBearing(
  hive: Site,
  point: Point,
): { readonly distanceM: number; readonly bearingDeg: number } {
  const { latitudeDeg, longitudeDeg } = hive;
  const { s12, azi1 } = wgs84.Inverse(latitudeDeg, longitudeDeg, point.latitudeDeg, point.longitudeDeg);
  return { distanceM: s12!, bearingDeg: within360(azi1!) };
}

/**
 * The point of a plane map around the hive, x east and y north in metres, on which distances and bearings from
 * the hive are true (azimuthal equidistant on WGS84).
 */
export function pointOfMap(hive: Site, xM: number, yM: number): Point {
  return goalOf(hive, (Math.atan2(xM, yM) * 180) / Math.PI, Math.hypot(xM, yM));
}
