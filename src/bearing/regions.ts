import { contours } from 'd3-contour';
import type { MapGrid } from './map-grid.ts';

/** A closed ring of [x, y] points, metres east and north of the hive; the last point is the first. */
export type Ring = readonly (readonly [number, number])[];
/** An outer ring, counterclockwise, and the rings of its holes, clockwise. */
export type RingPolygon = readonly Ring[];

/** The smallest region that holds a given share of what a grid holds. */
export interface Region {
  /** Share held, 0 to 1. */
  readonly level: number;
  /** Density along its edge, in the grid's own unit. */
  readonly threshold: number;
  readonly areaM2: number;
  readonly polygons: readonly RingPolygon[];
}

/**
 * Regions of highest density, one for each level: the contours of the density at which the cells above it hold
 * that share of the whole. Contours by marching squares with straight interpolation (d3-contour).
 */
export function regionsOf(grid: MapGrid, levels: readonly number[]): Region[] {
  const { columns, rows, values } = grid;
  const trace = contours().size([columns, rows]);
  const thresholds = thresholdsOf(values, levels);
  const plain = Array.from(values);
  return levels.map((level, k) => {
    const { coordinates } = trace.contour(plain, thresholds[k]);
    const polygons = coordinates.map((rings) =>
      rings.map((ring, place) =>
        wound(
          ring.map(([x, y]): [number, number] => [grid.westM + x * grid.cellM, grid.southM + y * grid.cellM]),
          place === 0,
        ),
      ),
    );
    const areaM2 = polygons.flat().reduce((sum, ring) => sum + ringArea(ring), 0);
    return { level, threshold: thresholds[k], areaM2, polygons };
  });
}

/** The values down to which, from the highest, a grid's cells hold each share of their sum. */
export function thresholdsOf(values: Float64Array, levels: readonly number[]): number[] {
  const rising = values.filter((value) => value > 0).sort();
  const total = rising.reduce((sum, value) => sum + value, 0);
  return levels.map((level) => {
    let sum = 0;
    for (let k = rising.length - 1; k >= 0; k--) {
      sum += rising[k];
      if (sum >= level * total) return rising[k];
    }
    return rising[0] ?? 0;
  });
}

/** Area of a ring, positive when it runs counterclockwise (x to the right, y up). */
export function ringArea(ring: Ring): number {
  let twice = 0;
  for (let k = 1; k < ring.length; k++) {
    twice += ring[k - 1][0] * ring[k][1] - ring[k][0] * ring[k - 1][1];
  }
  return twice / 2;
}

/** The ring, turned around if need be to run the wanted way. */
export function wound(ring: Ring, counterclockwise: boolean): Ring {
  return ringArea(ring) >= 0 === counterclockwise ? ring : ring.toReversed();
}

/** Whether a point lies in a ring: an odd number of its edges is crossed on the way out. */
export function ringHolds(ring: Ring, [x, y]: readonly [number, number]): boolean {
  let inside = false;
  for (let k = 1; k < ring.length; k++) {
    const [x0, y0] = ring[k - 1];
    const [x1, y1] = ring[k];
    if (y0 > y !== y1 > y && x < x0 + ((x1 - x0) * (y - y0)) / (y1 - y0)) inside = !inside;
  }
  return inside;
}
