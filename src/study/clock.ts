/**
 * The clock time `offsetS` seconds after a start, to the millisecond, in the start's own offset from UTC; a
 * start without offset gives a time without offset. null gives null.
 *
 * @param start ISO 8601 date and time, with or without offset
 */
export function clockTimeAfter(start: string | null, offsetS: number): string | null {
  return clockFrom(start)(offsetS);
}

/** As `clockTimeAfter`, of one start for many offsets. */
export function clockFrom(start: string | null): (offsetS: number) => string | null {
  if (start === null) return () => null;
  const zone = /(Z|[+-]\d{2}:\d{2})$/.exec(start)?.[0] ?? '';
  const local = Date.parse(`${start.slice(0, start.length - zone.length)}Z`);
  if (Number.isNaN(local)) return () => null;
  return (offsetS) => `${new Date(local + Math.round(offsetS * 1000)).toISOString().slice(0, -1)}${zone}`;
}
