import { describe, expect, test } from 'vitest';
import { apartDeg, turnDeg, within360 } from '../../src/bearing/angles.ts';
import {
  checkClock,
  expectedAngles,
  hoursIntoDaylight,
  type TimedAngle,
} from '../../src/bearing/clock-check.ts';
import { sunPosition } from '../../src/bearing/sun.ts';
import { seededRandom } from '../../src/random.ts';

const site = { latitudeDeg: 50, longitudeDeg: 10 };
const noon = Date.parse('2031-06-14T11:20:00Z');
const hour = 3_600_000;

/** Dances through the day to places of two bearings, read with a scatter of 6°. */
function dances(count: number, seed: number, change: (angle: TimedAngle) => TimedAngle = (angle) => angle) {
  const random = seededRandom(seed);
  return Array.from({ length: count }, (_, k): TimedAngle => {
    const instant = noon + (-4 + (8 * k) / count) * hour;
    const bearingDeg = k % 2 === 0 ? 75 : 250;
    const combAngleDeg = turnDeg(
      0,
      within360(bearingDeg - sunPosition(site, instant).azimuthDeg + 6 * random.normal()),
    );
    return change({ instant, combAngleDeg, source: `to ${bearingDeg}`, bearingDeg });
  });
}

const withoutBearing = (angle: TimedAngle) => ({ ...angle, bearingDeg: null });

describe('the check of clock and comb', () => {
  test('finds nothing amiss where nothing is', () => {
    for (const seed of [1, 2, 3, 4, 5]) {
      const check = checkClock(site, dances(24, seed))!;
      expect(check.dances).toBe(24);
      expect(check.deviationDeg).toBeGreaterThan(3);
      expect(check.deviationDeg).toBeLessThan(9);
      expect(check.better).toEqual([]);
      expect(checkClock(site, dances(24, seed, withoutBearing))!.better).toEqual([]);
    }
  });

  test.each([-6, -2, 1, 2, 4])('finds a clock that must be put %i h on', (hours) => {
    const off = (angle: TimedAngle) => ({ ...angle, instant: angle.instant - hours * hour });
    for (const given of [dances(24, 7, off), dances(24, 7, (angle) => withoutBearing(off(angle)))]) {
      const [best] = checkClock(site, given)!.better;
      expect(best).toMatchObject({ kind: 'clock' });
      expect(Math.abs(best!.amount - hours)).toBeLessThanOrEqual(0.5);
      expect(best!.deviationDeg).toBeLessThan(9);
    }
  });

  test.each([-90, 25, 180])('finds comb angles that must be turned by %i°', (turn) => {
    const turned = (angle: TimedAngle) => ({ ...angle, combAngleDeg: turnDeg(turn, angle.combAngleDeg) });
    const [best] = checkClock(site, dances(24, 8, turned))!.better;
    expect(best).toMatchObject({ kind: 'comb' });
    expect(Math.abs(turnDeg(turn, best!.amount))).toBeLessThan(5);
  });

  test('finds angles read counterclockwise', () => {
    const mirrored = (angle: TimedAngle) => ({ ...angle, combAngleDeg: -angle.combAngleDeg });
    expect(checkClock(site, dances(24, 9, mirrored))!.better[0]).toMatchObject({
      kind: 'mirrored',
      amount: 0,
    });
  });

  test('needs four dances, and several to each place that is not known', () => {
    expect(checkClock(site, dances(3, 1))).toBeNull();
    expect(checkClock(site, dances(4, 1))).not.toBeNull();
    const alone = dances(6, 1).map((angle, k) => ({ ...angle, bearingDeg: null, source: `place ${k}` }));
    expect(checkClock(site, alone)).toBeNull();
  });

  test('beside each place that is not known, wants three dances: for the scatter and what may be amiss', () => {
    expect(checkClock(site, dances(4, 1, withoutBearing))).toBeNull();
    expect(checkClock(site, dances(5, 1, withoutBearing))).not.toBeNull();
  });
});

test('hours that bring all dances into the day are the fewest', () => {
  expect(hoursIntoDaylight(site, [noon, noon + 5 * hour])).toBe(0);
  // Civil twilight ends about 10 h before and after noon at this place in June.
  const hours = hoursIntoDaylight(site, [noon - 12 * hour, noon - 6 * hour])!;
  expect(hours).toBeGreaterThan(1);
  expect(hours).toBeLessThan(5);
  expect(hoursIntoDaylight(site, [noon, noon + 12 * hour, noon + 6 * hour, noon - 6 * hour])).toBeNull();
});

test('the comb angle to expect turns back exactly as the sun’s azimuth goes on, and only by day', () => {
  const angles = expectedAngles(site, 180, noon - 12 * hour, noon + 12 * hour);
  expect(angles.length).toBeGreaterThan(90);
  expect(angles.length).toBeLessThan(105);
  for (const { instant, combAngleDeg } of angles) {
    expect(
      Math.abs(turnDeg(180, within360(combAngleDeg + sunPosition(site, instant).azimuthDeg))),
    ).toBeLessThan(1e-9);
  }
  const atNoon = angles.reduce((best, one) =>
    Math.abs(one.instant - noon) < Math.abs(best.instant - noon) ? one : best,
  );
  expect(apartDeg(atNoon.combAngleDeg, 0)).toBeLessThan(5);
});
