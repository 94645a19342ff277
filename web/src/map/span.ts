import type { StudyMapView } from '../../../src/server/api.ts';

/** What of the plane is seen, m. */
export interface Span {
  readonly x: readonly [number, number];
  readonly y: readonly [number, number];
}

interface Step {
  readonly east: number;
  readonly north: number;
  readonly scale: number;
}

/** Steps as shares of what is seen. */
export const MAP_STEPS = {
  west: { east: -0.15, north: 0, scale: 1 },
  east: { east: 0.15, north: 0, scale: 1 },
  north: { east: 0, north: 0.15, scale: 1 },
  south: { east: 0, north: -0.15, scale: 1 },
  '+': { east: 0, north: 0, scale: 0.7 },
  '-': { east: 0, north: 0, scale: 1 / 0.7 },
} as const satisfies Readonly<Record<string, Step>>;

export function stepped({ x, y }: Span, { east, north, scale }: Step): Span {
  const along = ([low, high]: readonly [number, number], by: number): [number, number] => {
    const middle = (low + high) / 2 + by * (high - low);
    const half = ((high - low) / 2) * scale;
    return [middle - half, middle + half];
  };
  return { x: along(x, east), y: along(y, north) };
}

const LEAST_M = 100;

/** Hive, feeders, dances and regions, with a margin; a backdrop may reach farther. */
export function extentOf({ regions, feeders, dances }: StudyMapView): Span {
  let [west, east, south, north] = [-LEAST_M, LEAST_M, -LEAST_M, LEAST_M];
  const take = (x: number, y: number) => {
    west = Math.min(west, x);
    east = Math.max(east, x);
    south = Math.min(south, y);
    north = Math.max(north, y);
  };
  for (const { eastM, northM } of [...feeders, ...dances]) take(eastM, northM);
  for (const [x, y] of regions.flatMap(({ polygons }) => polygons.flat(2))) take(x, y);
  const margin = 0.1 * Math.max(east - west, north - south);
  return { x: [west - margin, east + margin], y: [south - margin, north + margin] };
}
