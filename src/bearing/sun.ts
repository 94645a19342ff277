import { Body, Equator, Horizon, MakeTime, Observer } from 'astronomy-engine';
import { within360 } from './angles.ts';

/** Where on earth a hive stands. */
export interface Site {
  /** Degrees, north positive, −90 to 90. */
  readonly latitudeDeg: number;
  /** Degrees, east positive, −180 to 180. */
  readonly longitudeDeg: number;
  /** Metres above sea level; 0 when not known, which moves the sun by less than a thousandth of a degree. */
  readonly elevationM?: number;
}

/** Where the sun stands, seen from a place. */
export interface SunPosition {
  /** Clockwise from true north, 0 to 360 degrees. */
  readonly azimuthDeg: number;
  /** Of the sun's centre above the horizon, without refraction by the air, degrees. */
  readonly elevationDeg: number;
}

/** Above this the azimuth turns so fast, and dances scatter so much, that a bearing is unsafe. Common practice. */
export const unsafeElevationDeg = 80;
/** Elevation of the sun's centre at sunrise and sunset: half a degree of refraction and the sun's half width. */
export const sunsetElevationDeg = -0.833;

/**
 * Azimuth and elevation of the sun, as seen from the place, of date, with aberration and parallax, by
 * astronomy-engine; within 0.01° of NREL/TP-560-34302 (Reda & Andreas 2004).
 *
 * @param instant milliseconds since 1970-01-01T00:00Z
 */
export function sunPosition(site: Site, instant: number): SunPosition {
  const observer = new Observer(site.latitudeDeg, site.longitudeDeg, site.elevationM ?? 0);
  const time = MakeTime(new Date(instant));
  const { ra, dec } = Equator(Body.Sun, time, observer, true, true);
  const { azimuth, altitude } = Horizon(time, observer, ra, dec);
  return { azimuthDeg: within360(azimuth), elevationDeg: altitude };
}
