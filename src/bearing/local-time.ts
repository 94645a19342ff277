import { DateTime, IANAZone } from 'luxon';

/** An instant, or why a clock time gives none. */
export type InstantReading =
  | {
      readonly ok: true;
      readonly instant: number;
      readonly offsetMinutes: number;
      readonly note: string | null;
    }
  | { readonly ok: false; readonly found: string; readonly wanted: string };

const form = /^\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:?\d\d)?$/i;
const hasOffset = /(Z|[+-]\d\d:?\d\d)$/i;

/** Whether a name is that of a time zone of the IANA database, such as Etc/UTC. */
export function isTimeZone(name: string): boolean {
  return IANAZone.isValidZone(name);
}

/**
 * The instant of a clock time. A time with an offset from UTC stands for itself; one without is read in the
 * time zone, where it must exist, and only once. `note` tells of an offset that is not the zone's.
 *
 * @param text ISO 8601, such as 2025-06-14T09:30:00 or 2025-06-14T09:30:00+02:00
 * @param zone name of the IANA database, or null when not known
 * @returns instant in milliseconds since 1970-01-01T00:00Z
 */
export function instantOf(text: string, zone: string | null): InstantReading {
  const trimmed = text.trim().replace(' ', 'T');
  const wanted = 'a date and time such as 2025-06-14T09:30:00+02:00';
  if (!form.test(text.trim())) return { ok: false, found: JSON.stringify(text), wanted };
  if (zone !== null && !isTimeZone(zone)) {
    return { ok: false, found: `the time zone ${JSON.stringify(zone)}`, wanted: 'a zone such as Etc/UTC' };
  }
  if (hasOffset.test(trimmed)) {
    const time = DateTime.fromISO(trimmed, { setZone: true });
    if (!time.isValid) return { ok: false, found: JSON.stringify(text), wanted };
    return {
      ok: true,
      instant: time.toMillis(),
      offsetMinutes: time.offset,
      note: zone === null ? null : offsetNote(time, zone),
    };
  }
  if (zone === null) {
    const found = `${JSON.stringify(text)}, a clock time with neither an offset nor a time zone`;
    return { ok: false, found, wanted: 'a time zone, or times with their offset from UTC' };
  }
  return localInstant(trimmed, zone, text);
}

function localInstant(local: string, zone: string, text: string): InstantReading {
  const time = DateTime.fromISO(local, { zone });
  const asUtc = DateTime.fromISO(local, { zone: 'utc' });
  if (!time.isValid || !asUtc.isValid) {
    const wanted = 'a date and time such as 2025-06-14T09:30:00+02:00';
    return { ok: false, found: JSON.stringify(text), wanted };
  }
  const shown = `the clock time ${JSON.stringify(text)}`;
  // luxon moves a time that the clocks jumped over; read back, it is another.
  if (time.toMillis() + time.offset * 60_000 !== asUtc.toMillis()) {
    const found = `${shown}, which does not exist in ${zone}: the clocks jumped over it`;
    return { ok: false, found, wanted: 'a time that existed, or one with its offset from UTC' };
  }
  if (time.getPossibleOffsets().length > 1) {
    const found = `${shown}, which exists twice in ${zone}: the clocks were put back over it`;
    return { ok: false, found, wanted: 'the time with its offset from UTC' };
  }
  return { ok: true, instant: time.toMillis(), offsetMinutes: time.offset, note: null };
}

function offsetNote(time: DateTime, zone: string): string | null {
  const there = time.setZone(zone).offset;
  if (there === time.offset) return null;
  return `offset ${offsetText(time.offset)} is not that of ${zone} (${offsetText(there)})`;
}

/** A clock time with its offset from UTC: its own, else the zone's where that tells it; else as it is. */
export function withOffset(text: string, zone: string | null): string {
  if (zone === null || hasOffset.test(text.trim())) return text;
  const reading = instantOf(text, zone);
  return reading.ok ? `${text.trim().replace(' ', 'T')}${offsetText(reading.offsetMinutes)}` : text;
}

/** Offset from UTC such as +02:00. */
export function offsetText(minutes: number): string {
  const size = Math.abs(minutes);
  const digits = (value: number) => String(value).padStart(2, '0');
  return `${minutes < 0 ? '-' : '+'}${digits(Math.floor(size / 60))}:${digits(size % 60)}`;
}
