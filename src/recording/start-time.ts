import { basename } from 'node:path';
import { InputError } from '../input-error.ts';
import { latinText } from './byte-source.ts';

/** Bytes of a bext chunk's body up to the end of its time of origination. */
export const bextTimeBytes = 338;

/**
 * Start time from the body of a bext chunk (EBU Tech 3285: OriginationDate, 10 characters from byte 320,
 * OriginationTime, 8 characters from byte 330; the standard allows any separator). The chunk knows no
 * offset from UTC, so the result is wall-clock time.
 *
 * @returns `time` null when the fields are empty or wrong; `warning` when they are filled in but wrong
 */
export function bextStartTime(bext: DataView): { time: string | null; warning: string | null } {
  if (bext.byteLength < bextTimeBytes) {
    const warning = `bext chunk cut short: ${bext.byteLength} bytes, its start time ends at byte ${bextTimeBytes}`;
    return { time: null, warning };
  }
  const fields = latinText(bext, 320, 18);
  const match = /^(\d{4}).(\d{2}).(\d{2})(\d{2}).(\d{2}).(\d{2})$/s.exec(fields);
  const time = match === null ? null : wallClock(match.slice(1, 7));
  // A recorder without a clock leaves the fields empty or at zero.
  const isEmpty = !/[1-9A-Za-z]/.test(fields);
  const shown = JSON.stringify(fields.replaceAll('\0', ''));
  return {
    time,
    warning: time === null && !isEmpty ? `bext start time ${shown} is no date and time: ignored` : null,
  };
}

/**
 * Start time from a file name that holds one of: `20250614_093000`, `20250614T093000Z`,
 * `20250614T093000+0200`, `2025-06-14_09-30-00`, `2025-06-14T09_30_00`, or, with a two-digit year from 2000,
 * `25-06-14_09_30_00` (year, month, day). Only real dates count.
 *
 * @returns ISO 8601, with offset only where the name gives one; null when the name tells no time
 */
export function nameStartTime(path: string): string | null {
  const name = basename(path);
  for (const pattern of namePatterns) {
    for (const { groups } of name.matchAll(pattern)) {
      const { y, m, d, h, n, s, z } = groups as Record<string, string | undefined>;
      const time = wallClock([y!.padStart(4, '20'), m!, d!, h!, n!, s!]);
      const offset = offsetText(z);
      if (time !== null && offset !== null) return time + offset;
    }
  }
  return null;
}

// Neighbouring digits would make it some longer number.
const namePatterns: readonly RegExp[] = [
  /(?<!\d)(?<y>\d{4})(?<m>\d\d)(?<d>\d\d)T(?<h>\d\d)(?<n>\d\d)(?<s>\d\d)(?<z>Z|[+-]\d{4})?(?!\d)/g,
  /(?<!\d)(?<y>\d{4})(?<m>\d\d)(?<d>\d\d)[-_ ](?<h>\d\d)(?<n>\d\d)(?<s>\d\d)(?<z>Z)?(?!\d)/g,
  /(?<!\d)(?<y>\d{4})(?<dash>[-_.])(?<m>\d\d)\k<dash>(?<d>\d\d)[-_ T](?<h>\d\d)(?<colon>[-_.:])(?<n>\d\d)\k<colon>(?<s>\d\d)(?<z>Z)?(?!\d)/g,
  /(?<!\d)(?<y>\d\d)-(?<m>\d\d)-(?<d>\d\d)[-_ T](?<h>\d\d)(?<colon>[-_])(?<n>\d\d)\k<colon>(?<s>\d\d)(?<z>Z)?(?!\d)/g,
];

/**
 * Checks a start time given by the user and brings it into one form.
 *
 * @param text such as `2025-06-14T09:30:00+02:00`, `2025-06-14 09:30` or `2025-06-14T07:30:00.25Z`
 * @param option the option it came from, named in the error
 * @returns ISO 8601 with seconds, with offset when one was given
 * @throws InputError when it is no real date and time
 */
export function parseStartTime(text: string, option = '--start-time'): string {
  const pattern = /^(\d{4})-(\d\d)-(\d\d)[T ](\d\d):(\d\d)(?::(\d\d)(\.\d+)?)?(Z|[+-]\d\d:?\d\d)?$/i;
  const match = pattern.exec(text.trim());
  const time = match === null ? null : wallClock([...match.slice(1, 6), match[6] ?? '00']);
  const offset = offsetText(match?.[8]);
  if (time === null || offset === null) {
    throw new InputError({
      file: option,
      found: JSON.stringify(text),
      wanted: 'a date and time such as 2025-06-14T09:30:00+02:00',
    });
  }
  return time + (match?.[7] ?? '') + offset;
}

/** ISO 8601 wall-clock time from its six parts as text; null when there is no such date or time. */
function wallClock(parts: readonly string[]): string | null {
  const [year, month, day, hour, minute, second] = parts.map(Number) as [number, ...number[]];
  const date = new Date(Date.UTC(year, month! - 1, day, hour, minute, second));
  const iso = `${parts.slice(0, 3).join('-')}T${parts.slice(3, 6).join(':')}`;
  // Date carries 31 June over to 1 July; a real date comes back as it went in. Years before 1900 are misreadings.
  return year >= 1900 && date.toISOString().slice(0, 19) === iso ? iso : null;
}

/** '' for none, `Z`, or `+hh:mm`; null when no place on earth has such an offset. */
function offsetText(offset: string | undefined): string | null {
  if (offset === undefined) return '';
  if (offset.toUpperCase() === 'Z') return 'Z';
  const hours = offset.slice(1, 3);
  const minutes = offset.slice(-2);
  return Number(hours) <= 14 && Number(minutes) <= 59 ? `${offset[0]}${hours}:${minutes}` : null;
}
