import { type RingPolygon, ringHolds } from '../../src/bearing/regions.ts';

/** Whether a point (metres east and north of the hive) lies in any of the polygons and in none of its holes. */
export function polygonsHold(polygons: readonly RingPolygon[], point: readonly [number, number]): boolean {
  return polygons.some(([outer, ...holes]) => {
    return ringHolds(outer, point) && !holes.some((hole) => ringHolds(hole, point));
  });
}
