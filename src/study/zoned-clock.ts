import { IANAZone } from 'luxon';
import { instantOf, offsetText } from '../bearing/local-time.ts';
import { clockFrom } from './clock.ts';

/** No zone has changed its offset but at a quarter of an hour. */
const QUARTER_MS = 900_000;

/**
 * As `clockFrom`, with the offset from UTC that the zone has at each time: after a change of the clocks the times have
 * the new one. A start that the zone cannot place (clocks put back over it, say) gives times without offset; one whose
 * own offset is not the zone's keeps that.
 *
 * @param start ISO 8601 date and time, with or without offset
 * @param zone name of the IANA database, or null when not known
 */
export function zonedClockFrom(
  start: string | null,
  zone: string | null,
): (offsetS: number) => string | null {
  const reading = start === null || zone === null ? null : instantOf(start, zone);
  if (!reading?.ok || reading.note !== null) return clockFrom(start);
  const there = IANAZone.create(zone!);
  // Asked for every row of large tables; the library's answer costs more than the rest of a row.
  let [quarter, offsetMinutes] = [Number.NaN, 0];
  return (offsetS) => {
    const instant = reading.instant + Math.round(offsetS * 1000);
    const now = Math.floor(instant / QUARTER_MS);
    if (now !== quarter) [quarter, offsetMinutes] = [now, there.offset(instant)];
    const local = new Date(instant + offsetMinutes * 60_000).toISOString().slice(0, -1);
    return `${local}${offsetText(offsetMinutes)}`;
  };
}
