import { expect, test } from 'vitest';
import { dayDanceRows, type PlacedSound } from '../../../src/study/day/day-dances.ts';
import type { DanceFinding, StudyFindings } from '../../../src/study/study-findings.ts';

/** A dance from 10 to 40 s on channel 1 of the first recording, of which nothing is known but when. */
const part = { recordingId: 1, channel: 1, startS: 10, endS: 40 };
const finding = {
  dance: { id: 'd1', beeId: null, feederId: null, combAngleDeg: null, ...part },
  parts: [part],
  sun: null,
  flags: [],
} as unknown as DanceFinding;
const findings = { dances: [finding], feeders: [] } as unknown as StudyFindings;

const rowWith = (...begging: readonly PlacedSound[]) =>
  dayDanceRows(findings, { begging, hourOf: () => null, vertical: true })[0]!;
const call = (startS: number, recordingId = 1, channel = 1): PlacedSound => ({
  startS,
  recordingId,
  channel,
});

test('begging calls of a dance are those that begin within it, its ends included, on its own channel', () => {
  expect(rowWith(call(9.999), call(40.001)).begging_calls).toBe(0);
  expect(rowWith(call(40), call(10), call(25)).begging_calls).toBe(3);
  expect(rowWith(call(10), call(10), call(10)).begging_calls).toBe(3);
  expect(rowWith(call(25, 2), call(25, 1, 2)).begging_calls).toBe(0);
});

test('comb angles, read and expected, go from 0 to 360', () => {
  const dance = { ...finding.dance, feederId: 'reed', combAngleDeg: 198 };
  const toReed = { ...finding, dance, sun: { azimuthDeg: 190, elevationDeg: 40 } } as DanceFinding;
  const feeders = [{ feederId: 'reed', bearingDeg: 30 }];
  const [row] = dayDanceRows({ dances: [toReed], feeders } as unknown as StudyFindings, {
    begging: [],
    hourOf: () => null,
    vertical: true,
  });
  expect(row).toMatchObject({ comb_angle_deg: 198, expected_comb_angle_deg: 200, deviation_deg: -2 });
});

test('calls a minute of it: three in half a minute are six', () => {
  expect(rowWith(call(11), call(12), call(13)).begging_calls_per_min).toBe(6);
});
