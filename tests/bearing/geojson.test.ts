import { describe, expect, test } from 'vitest';
import { distanceAndBearing } from '../../src/bearing/geodesy.ts';
import { type MultiPolygon, multiPolygonOf, pointGeometry } from '../../src/bearing/geojson.ts';
import { type Ring, type RingPolygon, ringArea, wound } from '../../src/bearing/regions.ts';
import { polygonsHold } from './polygons-hold.ts';

const circle = (xM: number, yM: number, radiusM: number, points = 72): Ring =>
  Array.from({ length: points + 1 }, (_, k) => {
    const angle = (2 * Math.PI * (k % points)) / points;
    return [xM + radiusM * Math.cos(angle), yM + radiusM * Math.sin(angle)] as const;
  });
const ringAround: RingPolygon = [circle(0, 0, 2000), wound(circle(0, 0, 800), false)];

/** RFC 7946, section 3.1.6 and 3.1.9: closed rings, outer counterclockwise, holes clockwise, none across 180°. */
function expectSound({ coordinates }: MultiPolygon): void {
  expect(coordinates.length).toBeGreaterThan(0);
  for (const polygon of coordinates) {
    polygon.forEach((ring, place) => {
      expect(ring.length).toBeGreaterThanOrEqual(4);
      expect(ring[0]).toEqual(ring.at(-1));
      expect(Math.sign(ringArea(ring))).toBe(place === 0 ? 1 : -1);
      for (const [longitude, latitude] of ring) {
        expect(Math.abs(longitude)).toBeLessThanOrEqual(180);
        expect(Math.abs(latitude)).toBeLessThanOrEqual(90);
      }
    });
  }
}

test('an ordinary region keeps its points, outer ring counterclockwise, hole clockwise', () => {
  const hive = { latitudeDeg: 51, longitudeDeg: 9 };
  const region = multiPolygonOf(hive, [ringAround]);
  expectSound(region);
  expect(region.coordinates).toHaveLength(1);
  expect(region.coordinates[0].map((ring) => ring.length)).toEqual([73, 73]);
  for (const [longitudeDeg, latitudeDeg] of region.coordinates[0][0]) {
    const { distanceM } = distanceAndBearing(hive, { longitudeDeg, latitudeDeg });
    expect(Math.abs(distanceM - 2000)).toBeLessThan(0.02);
  }
  expect(polygonsHold(region.coordinates, [9, 51])).toBe(false);
  expect(polygonsHold(region.coordinates, [9, 51.012])).toBe(true);
});

test('several polygons, a hole in the right one', () => {
  const hive = { latitudeDeg: -33, longitudeDeg: -60 };
  const region = multiPolygonOf(hive, [[circle(9000, 0, 500)], ringAround]);
  expectSound(region);
  expect(region.coordinates.map((polygon) => polygon.length)).toEqual([1, 2]);
});

test('a hole in an island that lies in a hole is the island’s', () => {
  const hive = { latitudeDeg: 51, longitudeDeg: 9 };
  const within = (outerM: number, holeM: number): RingPolygon => [
    circle(0, 0, outerM),
    wound(circle(0, 0, holeM), false),
  ];
  const region = multiPolygonOf(hive, [within(4000, 3000), within(2000, 800)]);
  expectSound(region);
  const radii = region.coordinates.map((polygon) =>
    polygon.map(([[longitudeDeg, latitudeDeg]]) =>
      Math.round(distanceAndBearing(hive, { longitudeDeg, latitudeDeg }).distanceM),
    ),
  );
  expect(radii.sort(([a], [b]) => b! - a!)).toEqual([
    [4000, 3000],
    [2000, 800],
  ]);
});

test('across the antimeridian it is cut in two, hole and all', () => {
  const hive = { latitudeDeg: -17, longitudeDeg: 179.995 };
  const region = multiPolygonOf(hive, [ringAround]);
  expectSound(region);
  expect(region.coordinates).toHaveLength(2);
  for (const [outer] of region.coordinates) {
    const longitudes = outer.map(([longitude]) => longitude);
    expect(Math.max(...longitudes) - Math.min(...longitudes)).toBeLessThan(0.1);
    expect(Math.max(...longitudes.map(Math.abs))).toBeCloseTo(180, 5);
  }
  const holds = (x: number, y: number) => polygonsHold(region.coordinates, [x, y]);
  expect([holds(179.981, -17), holds(-179.99, -17), holds(179.996, -17)]).toEqual([true, true, false]);
  // Ground is neither lost nor gained: square degrees of a plain hive a little farther west.
  const area = (polygons: MultiPolygon) =>
    polygons.coordinates.flat().reduce((sum, ring) => sum + ringArea(ring), 0);
  const plain = multiPolygonOf({ ...hive, longitudeDeg: 100 }, [ringAround]);
  expect(area(region) / area(plain)).toBeCloseTo(1, 3);
});

describe('round a pole', () => {
  test.each([90, 89.995, -89.995, -90])('from a hive at latitude %f', (latitudeDeg) => {
    const region = multiPolygonOf({ latitudeDeg, longitudeDeg: 20 }, [[circle(0, 0, 2000)]]);
    expectSound(region);
    const side = Math.sign(latitudeDeg);
    // It reaches all round and up to the pole.
    for (const longitude of [-179, -90, 0, 90, 179]) {
      expect(polygonsHold(region.coordinates, [longitude, side * 89.99999])).toBe(true);
      expect(polygonsHold(region.coordinates, [longitude, side * 89.9])).toBe(false);
    }
  });

  test('a ring whose hole holds the pole', () => {
    const region = multiPolygonOf({ latitudeDeg: 90, longitudeDeg: 0 }, [ringAround]);
    expectSound(region);
    const degreesOf = (metres: number) => 90 - metres / 111_694;
    for (const longitude of [-179, -90, 0, 90, 179]) {
      expect(polygonsHold(region.coordinates, [longitude, degreesOf(1400)])).toBe(true);
      expect(polygonsHold(region.coordinates, [longitude, degreesOf(400)])).toBe(false);
      expect(polygonsHold(region.coordinates, [longitude, degreesOf(2400)])).toBe(false);
    }
  });
});

test('points are longitude first, to the centimetre', () => {
  expect(pointGeometry(9.123456789, -51)).toEqual({ type: 'Point', coordinates: [9.1234568, -51] });
});
