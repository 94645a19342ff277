import { describe, expect, test } from 'vitest';
import { apartDeg, turnDeg } from '../../src/bearing/angles.ts';
import { bearingOfRun, combAngleTo } from '../../src/bearing/comb-angle.ts';
import { sunPosition } from '../../src/bearing/sun.ts';

/** Common practice, no one source: how a dance for a goal due south turns on a vertical comb over the day. */
describe('a goal due south', () => {
  const goal = 180;

  test('at 8:30, the sun 80° to the left of the goal: the run points 80° right of up', () => {
    expect(combAngleTo(goal, goal - 80)).toBe(80);
    expect(bearingOfRun(80, goal - 80, 'vertical')).toBe(goal);
  });

  test('at solar noon: straight up', () => {
    expect(combAngleTo(goal, 180)).toBe(0);
    expect(bearingOfRun(0, 180, 'vertical')).toBe(goal);
  });

  test('by 16:30: about 80° left of up', () => {
    expect(combAngleTo(goal, goal + 80)).toBe(360 - 80);
    expect(bearingOfRun(-80, goal + 80, 'vertical')).toBe(goal);
  });

  test('by the sun of a June day: right of up in the morning, up at noon, left in the afternoon, evenly', () => {
    const site = { latitudeDeg: 48, longitudeDeg: 0 };
    const at = (hour: number) =>
      combAngleTo(goal, sunPosition(site, Date.UTC(2025, 5, 14, 0, hour * 60)).azimuthDeg);
    expect(at(8.5)).toBeGreaterThan(70);
    expect(at(8.5)).toBeLessThan(90);
    expect(apartDeg(at(12), 0)).toBeLessThan(1);
    // The sun is due south some seconds before 12:00 here on that day, so the two sides all but agree.
    expect(apartDeg(at(8) + at(16), 0)).toBeLessThan(1);
  });
});

test('over the day, for a fixed goal, the comb angle turns exactly as fast as the sun’s azimuth', () => {
  for (const latitudeDeg of [52, -34]) {
    for (let hour = 7; hour < 17; hour++) {
      const azimuth = (minutes: number) =>
        sunPosition({ latitudeDeg, longitudeDeg: 0 }, Date.UTC(2025, 2, 10, hour, minutes)).azimuthDeg;
      const turned = turnDeg(combAngleTo(137, azimuth(0)), combAngleTo(137, azimuth(30)));
      expect(turned).toBeCloseTo(-turnDeg(azimuth(0), azimuth(30)), 9);
    }
  }
});

test('straight up is the sun, straight down away from it; there and back for every angle', () => {
  expect(bearingOfRun(0, 111, 'vertical')).toBe(111);
  expect(bearingOfRun(180, 111, 'vertical')).toBe(291);
  for (let angle = -180; angle <= 360; angle += 15) {
    expect(apartDeg(combAngleTo(bearingOfRun(angle, 200, 'vertical')!, 200), angle)).toBeCloseTo(0, 9);
  }
});

test('on a horizontal comb the run points to the goal, whatever the sun; on an oblique one nothing is certain', () => {
  expect(bearingOfRun(-90, 200, 'horizontal')).toBe(270);
  expect(bearingOfRun(45, 200, 'oblique')).toBeNull();
});
