import { DateTime } from 'luxon';

/** Standard time runs up to so much before or behind the sun, h, in the widest zones; elsewhere hardly so much. */
const LARGEST_AWAY_H = 3.5;
const SELDOM_AWAY_H = 2;
/** Swapped coordinates would fit so well. */
const FITTING_H = 1;

/**
 * What is to be said where a hive's longitude and its clock do not go together: coordinates are easily swapped, and
 * bearings then come out wrong by tens of degrees without another sign of it. null where they do.
 *
 * @param timeZone IANA name
 */
export function zoneWarning(latitude: number, longitude: number, timeZone: string): string | null {
  const offsetH = DateTime.fromISO('2031-01-01T12:00', { zone: timeZone }).offset / 60;
  const away = (degrees: number) => Math.abs(((offsetH - degrees / 15 + 36) % 24) - 12);
  const swapped = away(longitude) > SELDOM_AWAY_H && away(latitude) < FITTING_H;
  if (!swapped && !(away(longitude) > LARGEST_AWAY_H)) return null;
  return (
    `longitude ${longitude} and time zone ${timeZone} do not go together (the sun and the clock there are ` +
    `${away(longitude).toFixed(1)} h apart): ${swapped ? 'are latitude and longitude swapped?' : 'is one of them wrong?'}`
  );
}
