import { describe, expect, test } from 'vitest';
import { asciiGrid, hiveProjection } from '../../src/bearing/ascii-grid.ts';
import { densityOfInterval, distanceLookup } from '../../src/bearing/distance-density.ts';
import { emptyGrid, type MapGrid } from '../../src/bearing/map-grid.ts';
import { addPlace, gridOfPlace, placeOf } from '../../src/bearing/place.ts';
import { regionsOf, ringArea, ringHolds, thresholdsOf } from '../../src/bearing/regions.ts';
import { polygonsHold } from './polygons-hold.ts';

const direction = { meanDeg: 60, scaleDeg: 8, degreesOfFreedom: 20 };
const distance = densityOfInterval({ medianM: 800, lowM: 620, highM: 1050, level: 0.95 });

const sumOf = ({ values, cellM }: MapGrid): number =>
  values.reduce((sum, value) => sum + value, 0) * cellM * cellM;

describe('a density of distance from a median and its interval', () => {
  test.each([
    [800, 620, 1050, 0.95],
    [800, 550, 980, 0.9],
    [800, 600, 1000, 0.95],
    [300, 299, 301.0001, 0.5],
  ])('has them as its quantiles: %d m, %d to %d m at %f', (medianM, lowM, highM, level) => {
    const { quantile, densityAt } = distanceLookup(densityOfInterval({ medianM, lowM, highM, level }));
    const tolerance = (highM - lowM) / 500;
    expect(Math.abs(quantile(0.5) - medianM)).toBeLessThan(tolerance);
    expect(Math.abs(quantile((1 - level) / 2) - lowM)).toBeLessThan(tolerance);
    expect(Math.abs(quantile((1 + level) / 2) - highM)).toBeLessThan(tolerance);
    let sum = 0;
    const steps = 4000;
    const [from, to] = [Math.max(medianM - 8 * (medianM - lowM), 0), medianM + 8 * (highM - medianM)];
    for (let k = 0; k < steps; k++) sum += densityAt(from + ((k + 0.5) * (to - from)) / steps);
    expect((sum * (to - from)) / steps).toBeCloseTo(1, 2);
  });

  test('is cut off at the hive', () => {
    const { quantile, densityAt } = distanceLookup(
      densityOfInterval({ medianM: 100, lowM: 0, highM: 260, level: 0.95 }),
    );
    expect(quantile(0)).toBeGreaterThanOrEqual(0);
    expect(densityAt(-1)).toBe(0);
  });

  test('a posterior on a ragged grid: a triangle', () => {
    const { quantile, densityAt } = distanceLookup({ distanceM: [0, 10, 40], density: [0, 4, 0] });
    expect(densityAt(10)).toBeCloseTo(0.05, 12);
    expect(densityAt(25)).toBeCloseTo(0.025, 12);
    expect(quantile(0.25)).toBeCloseTo(10, 9);
    // Above the peak the share left over is ((40 − x)/30)² of three quarters.
    expect(quantile(0.8125)).toBeCloseTo(25, 9);
    expect([quantile(0), quantile(1)]).toEqual([0, 40]);
  });

  test.each([
    [
      [0, 10],
      [0, 0],
    ],
    [
      [0, 0],
      [1, 1],
    ],
    [
      [0, 10],
      [1, -1],
    ],
    [
      [0, 10],
      [1, Number.NaN],
    ],
  ])('refuses %j with %j', (distanceM, density) => {
    expect(() => distanceLookup({ distanceM, density })).toThrow(RangeError);
  });
});

describe('posterior of a place', () => {
  const place = placeOf(distance, direction);
  const grid = gridOfPlace(place);

  test('has the Jacobian: per area, the same ring and wedge weigh less the farther out', () => {
    const flat = { distanceM: [100, 1000], density: [1, 1] };
    const { densityAt } = placeOf(flat, direction);
    expect(
      densityAt(200 * Math.sin(1), 200 * Math.cos(1)) / densityAt(800 * Math.sin(1), 800 * Math.cos(1)),
    ).toBeCloseTo(4, 6);
  });

  test('its grid holds all of it, most of it along the bearing', () => {
    expect(sumOf(grid)).toBeCloseTo(1, 9);
    let meanX = 0;
    let meanY = 0;
    grid.values.forEach((value, k) => {
      meanX += value * grid.cellM ** 2 * (grid.westM + ((k % grid.columns) + 0.5) * grid.cellM);
      meanY += value * grid.cellM ** 2 * (grid.southM + (Math.floor(k / grid.columns) + 0.5) * grid.cellM);
    });
    expect((Math.atan2(meanX, meanY) * 180) / Math.PI).toBeCloseTo(60, 1);
    expect(Math.hypot(meanX, meanY)).toBeGreaterThan(770);
    expect(Math.hypot(meanX, meanY)).toBeLessThan(820);
  });

  test('its regions nest, wind counterclockwise, and hold their shares of the grid', () => {
    const regions = regionsOf(grid, [0.5, 0.8, 0.95]);
    for (const { level, polygons, areaM2 } of regions) {
      expect(polygons.length).toBeGreaterThan(0);
      let inside = 0;
      let cells = 0;
      grid.values.forEach((value, k) => {
        const x = grid.westM + ((k % grid.columns) + 0.5) * grid.cellM;
        const y = grid.southM + (Math.floor(k / grid.columns) + 0.5) * grid.cellM;
        if (!polygonsHold(polygons, [x, y])) return;
        inside += value * grid.cellM ** 2;
        cells++;
      });
      expect(Math.abs(inside - level)).toBeLessThan(0.01);
      expect((cells * grid.cellM ** 2) / areaM2).toBeCloseTo(1, 1);
      for (const [outer, ...holes] of polygons) {
        expect(ringArea(outer)).toBeGreaterThan(0);
        expect(outer[0]).toEqual(outer.at(-1));
        for (const hole of holes) expect(ringArea(hole)).toBeLessThan(0);
      }
    }
    expect(regions[0].areaM2).toBeLessThan(regions[1].areaM2);
    expect(regions[1].areaM2).toBeLessThan(regions[2].areaM2);
    const median = [800 * Math.sin(Math.PI / 3), 800 * Math.cos(Math.PI / 3)] as const;
    expect(polygonsHold(regions[0].polygons, median)).toBe(true);
    expect(polygonsHold(regions[2].polygons, [-median[0], -median[1]])).toBe(false);
  });

  test('with no direction at all it is a ring with the hive in its hole', () => {
    const ring = placeOf(distance, { meanDeg: 0, scaleDeg: 360, degreesOfFreedom: 50 });
    const [region] = regionsOf(gridOfPlace(ring), [0.95]);
    expect(region.polygons).toHaveLength(1);
    expect(region.polygons[0]).toHaveLength(2);
    // The hole, a large part of the round within the outer ring, is no part of the region's area.
    const [outerM2, holeM2] = region.polygons[0].map(ringArea);
    expect(holeM2).toBeLessThan(-0.2 * outerM2);
    expect(region.areaM2).toBeCloseTo(outerM2 + holeM2, 3);
    expect(polygonsHold(region.polygons, [0, 0])).toBe(false);
    expect(polygonsHold(region.polygons, [0, -800])).toBe(true);
  });

  test('on a common grid each place keeps its weight, however coarse the cells', () => {
    const narrow = placeOf(densityOfInterval({ medianM: 3000, lowM: 2990, highM: 3010, level: 0.95 }), {
      meanDeg: 300,
      scaleDeg: 0.2,
      degreesOfFreedom: 100,
    });
    for (const cellM of [50, 500]) {
      const common = emptyGrid({ westM: -3500, eastM: 2000, southM: -500, northM: 2500 }, cellM);
      addPlace(common, place, 1);
      expect(sumOf(common)).toBeCloseTo(1, 9);
      addPlace(common, narrow, 7);
      expect(sumOf(common)).toBeCloseTo(8, 9);
    }
  });
});

test('thresholds: the fewest highest cells that hold a share', () => {
  expect(thresholdsOf(Float64Array.of(0, 1, 4, 2, 3), [0.4, 0.5, 0.95, 1])).toEqual([4, 3, 1, 1]);
  expect(thresholdsOf(new Float64Array(3), [0.5])).toEqual([0]);
});

test('a ring holds what lies within', () => {
  const ring = [
    [0, 0],
    [4, 0],
    [4, 4],
    [2, 1],
    [0, 4],
    [0, 0],
  ] as const;
  expect(ringHolds(ring, [1, 1])).toBe(true);
  expect(ringHolds(ring, [2, 2])).toBe(false);
  expect(ringHolds(ring, [5, 1])).toBe(false);
});

test('an ESRI ASCII grid runs from north to south', () => {
  const grid = {
    columns: 2,
    rows: 2,
    westM: -10,
    southM: -20,
    cellM: 10,
    values: Float64Array.of(1, 2, 3, 4.5),
  };
  expect(asciiGrid(grid, 10)).toBe(
    'ncols 2\nnrows 2\nxllcorner -10\nyllcorner -20\ncellsize 10\nNODATA_value -9999\n30 45\n10 20\n',
  );
  const projection = hiveProjection({ latitudeDeg: -33.25, longitudeDeg: 150.5 });
  expect(projection).toContain('PARAMETER["Central_Meridian",150.5],PARAMETER["Latitude_Of_Origin",-33.25]');
  expect(projection.split('[').length).toBe(projection.split(']').length);
});
