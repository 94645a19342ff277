import { expect, test } from 'vitest';
import { instantOf, isTimeZone } from '../../src/bearing/local-time.ts';

const berlin = 'Europe/Berlin';
const instant = (text: string, zone: string | null) => {
  const reading = instantOf(text, zone);
  return reading.ok ? new Date(reading.instant).toISOString() : reading.found;
};

test('a clock time is read in its zone, in summer and in winter, across midnight', () => {
  expect(instant('2025-06-14T09:30:00', berlin)).toBe('2025-06-14T07:30:00.000Z');
  expect(instant('2025-12-14 09:30', berlin)).toBe('2025-12-14T08:30:00.000Z');
  expect(instant('2025-06-14T00:30:00', berlin)).toBe('2025-06-13T22:30:00.000Z');
  expect(instant('2025-06-14T09:30:00.25', 'Pacific/Auckland')).toBe('2025-06-13T21:30:00.250Z');
});

test('an offset stands for itself, and a zone that disagrees is noted', () => {
  expect(instant('2025-06-14T09:30:00+02:00', null)).toBe('2025-06-14T07:30:00.000Z');
  expect(instant('2025-06-14T07:30:00Z', null)).toBe('2025-06-14T07:30:00.000Z');
  expect(instantOf('2025-06-14T09:30:00+02:00', berlin)).toMatchObject({ note: null });
  expect(instantOf('2025-06-14T09:30:00+01:00', berlin)).toMatchObject({
    note: 'offset +01:00 is not that of Europe/Berlin (+02:00)',
  });
});

test('either side of both changes of the clocks', () => {
  expect(instant('2025-03-30T01:59:59', berlin)).toBe('2025-03-30T00:59:59.000Z');
  expect(instant('2025-03-30T03:00:00', berlin)).toBe('2025-03-30T01:00:00.000Z');
  expect(instant('2025-10-26T01:59:59', berlin)).toBe('2025-10-25T23:59:59.000Z');
  expect(instant('2025-10-26T03:00:00', berlin)).toBe('2025-10-26T02:00:00.000Z');
});

test('a time that the clocks jumped over, and one that they showed twice, are refused', () => {
  expect(instantOf('2025-03-30T02:30:00', berlin)).toMatchObject({
    ok: false,
    found: expect.stringContaining('does not exist in Europe/Berlin'),
  });
  expect(instantOf('2025-10-26T02:30:00', berlin)).toMatchObject({
    ok: false,
    found: expect.stringContaining('exists twice in Europe/Berlin'),
    wanted: expect.stringContaining('offset'),
  });
  // With their offset they are plain instants.
  expect(instant('2025-10-26T02:30:00+02:00', berlin)).toBe('2025-10-26T00:30:00.000Z');
  expect(instant('2025-10-26T02:30:00+01:00', berlin)).toBe('2025-10-26T01:30:00.000Z');
});

test.each([
  ['2025-06-14T09:30:00', null, /neither an offset nor a time zone/],
  ['2025-06-14T09:30:00', 'Middle/Earth', /time zone "Middle\/Earth"/],
  ['2025-02-30T09:30:00', berlin, /2025-02-30/],
  ['2025-02-30T09:30:00Z', berlin, /2025-02-30/],
  ['half past nine', berlin, /half past nine/],
  ['2025-06-14', berlin, /2025-06-14/],
  ['', berlin, /""/],
])('refuses %j in %j', (text, zone, found) => {
  expect(instantOf(text, zone)).toMatchObject({ ok: false, found: expect.stringMatching(found) });
});

test('zones', () => {
  expect([berlin, 'Etc/UTC', '', 'CEST/Nowhere'].map(isTimeZone)).toEqual([true, true, false, false]);
});
