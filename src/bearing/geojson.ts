import { geoEquirectangular, geoStream } from 'd3-geo';
import { pointOfMap } from './geodesy.ts';
import { type Ring, type RingPolygon, ringArea, ringHolds, wound } from './regions.ts';
import type { Site } from './sun.ts';

/** Longitude and latitude, degrees. */
export type Position = readonly [number, number];
/** Polygons of RFC 7946, each an outer ring and its holes. */
export interface MultiPolygon {
  readonly type: 'MultiPolygon';
  readonly coordinates: readonly (readonly Ring[])[];
}
/** A point of RFC 7946. */
export interface PointGeometry {
  readonly type: 'Point';
  readonly coordinates: Position;
}
/** A place and what is said of it, RFC 7946. */
export interface Feature {
  readonly type: 'Feature';
  readonly geometry: MultiPolygon | PointGeometry;
  readonly properties: Readonly<Record<string, string | number | boolean | null>>;
}
/** What a file of RFC 7946 holds. */
export interface FeatureCollection {
  readonly type: 'FeatureCollection';
  readonly features: readonly Feature[];
}

/** Seven decimals of a degree are a centimetre on the ground; RFC 7946, section 11.2, asks for no more than is meant. */
const rounded = (degrees: number): number => Math.round(degrees * 1e7) / 1e7 + 0;

/** A point of GeoJSON. */
export function pointGeometry(longitudeDeg: number, latitudeDeg: number): PointGeometry {
  return { type: 'Point', coordinates: [rounded(longitudeDeg), rounded(latitudeDeg)] };
}

/**
 * Polygons of the plane map around a hive as a MultiPolygon of RFC 7946: longitude and latitude on WGS84, outer
 * rings counterclockwise, holes clockwise, cut where they cross the antimeridian (section 3.1.9) and led along
 * the edge of the map where they go round a pole. Cutting by d3-geo.
 */
export function multiPolygonOf(hive: Site, polygons: readonly RingPolygon[]): MultiPolygon {
  // d3-geo takes what lies to the right of a ring as its inside.
  const coordinates = polygons.map((rings) =>
    rings.map((ring, place) =>
      wound(ring, place !== 0).map(([x, y]): [number, number] => {
        const { longitudeDeg, latitudeDeg } = pointOfMap(hive, x, y);
        return [longitudeDeg, latitudeDeg];
      }),
    ),
  );
  return { type: 'MultiPolygon', coordinates: assemble(cutRings(coordinates)) };
}

/** Rings in longitude and latitude, cut at the antimeridian; outer rings clockwise, as d3-geo leaves them. */
function cutRings(coordinates: [number, number][][][]): [number, number][][] {
  const rings: [number, number][][] = [];
  let ring: [number, number][] = [];
  const flat = geoEquirectangular()
    .scale(180 / Math.PI)
    .translate([0, 0])
    .reflectY(true)
    .precision(0);
  const sink = {
    point: (x: number, y: number) => {
      ring.push([rounded(x), rounded(y)]);
    },
    lineStart: () => {
      ring = [];
    },
    lineEnd: () => {
      const kept = ring.filter(([x, y], k) => k === 0 || x !== ring[k - 1][0] || y !== ring[k - 1][1]);
      const [first, last] = [kept[0], kept.at(-1)];
      if (first && last && (first[0] !== last[0] || first[1] !== last[1])) kept.push([...first]);
      if (kept.length >= 4) rings.push(kept);
    },
    polygonStart: () => {},
    polygonEnd: () => {},
    sphere: () => {},
  };
  geoStream({ type: 'MultiPolygon', coordinates }, flat.stream(sink));
  return rings;
}

/** Polygons from clockwise outer rings and counterclockwise holes, wound the way RFC 7946 wants. */
function assemble(rings: readonly Ring[]): Ring[][] {
  const outers = rings.filter((ring) => ringArea(ring) < 0);
  const holes = rings.filter((ring) => ringArea(ring) > 0);
  const polygons = outers.map((outer): Ring[] => [wound(outer, true)]);
  // A hole belongs to the smallest outer ring around it.
  const bySize = polygons.toSorted((a, b) => ringArea(a[0]) - ringArea(b[0]));
  for (const hole of holes) {
    bySize.find(([outer]) => ringHolds(outer, hole[0]))?.push(wound(hole, false));
  }
  return polygons;
}
