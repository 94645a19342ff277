import { expect, test } from 'vitest';
import { apartDeg } from '../../src/bearing/angles.ts';
import { distanceAndBearing, goalOf, pointOfMap } from '../../src/bearing/geodesy.ts';
import { seededRandom } from '../../src/random.ts';

test('40.6° N 73.8° W to 51.6° N 0.5° W is 5551.759400 km (GeographicLib’s documentation; from memory)', () => {
  const hive = { latitudeDeg: 40.6, longitudeDeg: -73.8 };
  const { distanceM } = distanceAndBearing(hive, { latitudeDeg: 51.6, longitudeDeg: -0.5 });
  expect(distanceM).toBeCloseTo(5_551_759.4, 2);
});

test('a quarter of the meridian is 10 001.965729 km, of the equator 10 018.754171 km (WGS84; from memory)', () => {
  const hive = { latitudeDeg: 0, longitudeDeg: 0 };
  const pole = distanceAndBearing(hive, { latitudeDeg: 90, longitudeDeg: 0 });
  expect(pole.distanceM).toBeCloseTo(10_001_965.729, 2);
  const quarter = (6_378_137 * Math.PI) / 2;
  const east = distanceAndBearing(hive, { latitudeDeg: 0, longitudeDeg: 90 });
  expect(east.distanceM).toBeCloseTo(quarter, 3);
  expect(east.bearingDeg).toBeCloseTo(90, 9);
});

test('there and back: the goal of a bearing and distance lies at that bearing and distance', () => {
  const random = seededRandom(4);
  for (let k = 0; k < 200; k++) {
    const hive = { latitudeDeg: random.between(-89.99, 89.99), longitudeDeg: random.between(-180, 180) };
    const bearing = random.between(0, 360);
    const distance = random.between(1, 12_000);
    const back = distanceAndBearing(hive, goalOf(hive, bearing, distance));
    expect(back.distanceM).toBeCloseTo(distance, 5);
    expect(apartDeg(back.bearingDeg, bearing)).toBeLessThan(1e-4);
    const angle = (bearing * Math.PI) / 180;
    const onMap = pointOfMap(hive, distance * Math.sin(angle), distance * Math.cos(angle));
    expect(onMap.latitudeDeg).toBeCloseTo(goalOf(hive, bearing, distance).latitudeDeg, 9);
  }
});

test('over the pole and over the antimeridian', () => {
  const north = goalOf({ latitudeDeg: 89.999, longitudeDeg: 0 }, 0, 1000);
  expect(Math.abs(north.longitudeDeg)).toBe(180);
  expect(north.latitudeDeg).toBeLessThan(90);
  const east = goalOf({ latitudeDeg: 10, longitudeDeg: 179.999 }, 90, 1000);
  expect(east.longitudeDeg).toBeLessThan(-179.9);
});
