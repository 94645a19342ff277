import { describe, expect, test } from 'vitest';
import { turnDeg, within360 } from '../../src/bearing/angles.ts';
import { checkClock, type TimedAngle } from '../../src/bearing/clock-check.ts';
import { danceAngles } from '../../src/bearing/dance-bearing.ts';
import { densityOfInterval } from '../../src/bearing/distance-density.ts';
import { largestGapDeg } from '../../src/bearing/harmonics.ts';
import { cellCount, emptyGrid } from '../../src/bearing/map-grid.ts';
import { calibrateDirection } from '../../src/bearing/misdirection.ts';
import { addPlace, placeOf } from '../../src/bearing/place.ts';
import { sunPosition } from '../../src/bearing/sun.ts';
import { seededRandom } from '../../src/random.ts';

test('a grid has one spare cell all around, its edges at whole cells from the hive', () => {
  // From −25 to 35 m in cells of 10: −30 to 40, and one more on either side.
  const extent = { westM: -25, eastM: 35, southM: -5, northM: 41 };
  const { westM, southM, columns, rows, values } = emptyGrid(extent, 10);
  expect([westM, westM + 10 * columns]).toEqual([-40, 50]);
  expect([southM, southM + 10 * rows]).toEqual([-20, 60]);
  expect(values).toHaveLength(72);
  expect(cellCount(extent, 10)).toBe(72);
});

test('cells are counted as they are made, where edges lie on cells and where they do not', () => {
  // Edges on cells: −20 to 40, and one more on either side. The same width may also reach into one cell more.
  const wide = (westM: number) => ({ westM, eastM: westM + 60, southM: 0, northM: 10 });
  expect(cellCount(wide(-20), 10)).toBe(8 * 3);
  expect(cellCount(wide(-25), 10)).toBe(9 * 3);
  for (let westM = -40; westM <= 40; westM += 2.5) {
    const extent = { westM, eastM: westM + 61, southM: -3 * westM, northM: 97 - 3 * westM };
    expect(cellCount(extent, 10)).toBe(emptyGrid(extent, 10).values.length);
  }
  // The most that a map may have, 4 million, is 2000 by 2000; a metre more to the east is a column more.
  const most = { westM: -9990, eastM: 9980, southM: -9981, northM: 9989 };
  expect(cellCount(most, 10)).toBe(4e6 - 2000);
  expect(cellCount({ ...most, eastM: 9981 }, 10)).toBe(4e6);
  expect(cellCount({ ...most, eastM: 9991 }, 10)).toBe(4e6 + 2000);
});

test('the extent of a place bulges to the farthest distance where it spans a point of the compass', () => {
  const distance = { distanceM: [400, 401, 500, 501], density: [0, 1, 1, 0] };
  for (const [meanDeg, edge] of [
    [5, 'northM'],
    [85, 'eastM'],
    [185, 'southM'],
    [275, 'westM'],
  ] as const) {
    const place = placeOf(distance, { meanDeg, scaleDeg: 8, degreesOfFreedom: Number.POSITIVE_INFINITY });
    expect(Math.abs(place.extent[edge])).toBeCloseTo(place.farM, 9);
  }
});

test('a ring much narrower than a cell is stepped over in none of the cells that it crosses', () => {
  // A circle of 500 m in cells of 50 m crosses 80 lines, at 12 points two at once (3-4-5): 68 cells.
  const distance = { distanceM: [499, 500, 501], density: [0, 1, 0] };
  const place = placeOf(distance, { meanDeg: 0, scaleDeg: 360, degreesOfFreedom: Number.POSITIVE_INFINITY });
  const grid = emptyGrid(place.extent, 50);
  addPlace(grid, place, 1);
  expect(grid.values.filter((value) => value > 0).length).toBeGreaterThanOrEqual(68);
});

test.each([100, 200, 400])(
  'in cells of %d m a place lies as it does when far more points are taken',
  (cellM) => {
    const distance = densityOfInterval({ medianM: 800, lowM: 620, highM: 1050, level: 0.95 });
    const place = placeOf(distance, { meanDeg: 60, scaleDeg: 8, degreesOfFreedom: 20 });
    const [usual, fine] = [emptyGrid(place.extent, cellM), emptyGrid(place.extent, cellM)];
    addPlace(usual, place, 1);
    addPlace(fine, place, 1, 64);
    const apart = usual.values.reduce((sum, value, k) => sum + Math.abs(value - fine.values[k]!), 0);
    expect((apart * cellM ** 2) / 2).toBeLessThan(0.006);
  },
);

test('the largest gap goes round by north', () => {
  expect(largestGapDeg([0, 90, 180, 270])).toBe(90);
  expect(largestGapDeg([10, 350, 100])).toBe(250);
  expect(largestGapDeg([100, 200])).toBe(260);
  expect(largestGapDeg([5])).toBe(360);
  expect(largestGapDeg([])).toBe(360);
});

test('the sun of a dance is that at its middle run', () => {
  const sunOf = (count: number) => {
    const runs = Array.from({ length: count }, (_, k) => ({
      combAngleDeg: 10,
      sunAzimuthDeg: 100 + k,
      sunElevationDeg: 40 + k,
    }));
    const { sunAzimuthDeg, sunElevationDeg } = danceAngles(runs, 'vertical');
    return [sunAzimuthDeg, sunElevationDeg];
  };
  expect(sunOf(1)).toEqual([100, 40]);
  expect(sunOf(5)).toEqual([102, 42]);
});

test('the scatter of dances about a constant is their variance, n − 1 in it', () => {
  // One side only, so that nothing but a constant can be told; runs without scatter of their own.
  const known = [2, 4, 6, 8, 10].map((deviationDeg, k) => ({
    combAngleDeg: 10 + k,
    deviationDeg,
    runVarianceDeg2: 0,
  }));
  const { forms } = calibrateDirection(known)!;
  expect(forms).toHaveLength(1);
  expect(forms[0]!.coefficients[0]).toBeCloseTo(6, 9);
  expect(Math.exp(forms[0]!.scatter[0]!)).toBeCloseTo(10, 1);
  expect(Math.sqrt(forms[0]!.covariance[0]![0]!)).toBeCloseTo(Math.sqrt(10 / 5), 2);
});

describe('the check of clock and comb names nothing', () => {
  const site = { latitudeDeg: 50, longitudeDeg: 10 };
  const noon = Date.parse('2031-06-14T11:20:00Z');
  const hour = 3_600_000;

  /** Dances about noon to two places of known bearing, read by the sun at other hours, turned and with scatter. */
  const dances = (count: number, { turnedDeg = 0, scatterDeg = 0, hours = 0 }): TimedAngle[] => {
    const random = seededRandom(31);
    return Array.from({ length: count }, (_, k) => {
      const instant = noon + (-4 + (8 * k) / count) * hour;
      const bearingDeg = k % 2 === 0 ? 75 : 250;
      const { azimuthDeg } = sunPosition(site, instant + hours * hour);
      const read = bearingDeg - azimuthDeg + turnedDeg + scatterDeg * random.normal();
      return { instant, combAngleDeg: turnDeg(0, within360(read)), source: `to ${bearingDeg}`, bearingDeg };
    });
  };

  test('that takes away less than a fifth of the deviation, however many dances say so', () => {
    // A turn of 4° beside a scatter of 8°: √(8² + 4²) = 8.9°, of which a tenth goes; one of 12° leaves 8 of 14.4°.
    expect(checkClock(site, dances(200, { turnedDeg: 4, scatterDeg: 8 }))!.better).toEqual([]);
    expect(checkClock(site, dances(200, { turnedDeg: 12, scatterDeg: 8 }))!.better[0]).toMatchObject({
      kind: 'comb',
    });
  });

  test('finer than a degree, which nobody reads', () => {
    expect(checkClock(site, dances(40, { turnedDeg: 0.5 }))!.better).toEqual([]);
  });

  test('that would put the dances into the night', () => {
    const { better } = checkClock(site, dances(40, { scatterDeg: 3, hours: 11 }))!;
    for (const { kind, amount } of better) if (kind === 'clock') expect(Math.abs(amount)).toBeLessThan(8);
  });
});
