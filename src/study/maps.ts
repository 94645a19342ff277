import type { Direction } from '../bearing/direction.ts';
import { goalOf } from '../bearing/geodesy.ts';
import { type Feature, type FeatureCollection, multiPolygonOf, pointGeometry } from '../bearing/geojson.ts';
import { cellCount, emptyGrid, type MapGrid, union } from '../bearing/map-grid.ts';
import { addPlace, gridOfPlace, type Place, placeOf } from '../bearing/place.ts';
import { type Region, regionsOf } from '../bearing/regions.ts';
import type { Site } from '../bearing/sun.ts';
import { InputError } from '../input-error.ts';
import type { MapWeight } from './map-weights.ts';
import type { MapDance } from './maps-input.ts';
import type { PlaceRow } from './maps-tables.ts';
import type { FeederPlace } from './places.ts';

/** Shares that the regions of a map hold. */
const mapLevels = [0.5, 0.8, 0.95] as const;

export interface MapSettings {
  readonly weight: MapWeight;
  /** Side of a cell of the foraging map, m; null for a round number that gives some 200 cells across. */
  readonly cellM: number | null;
}

/** A map of the places that dances tell of. */
export interface ForagingMap {
  readonly places: readonly PlaceRow[];
  /** Weighted dances per square metre. */
  readonly grid: MapGrid;
  /** Regions of the whole. */
  readonly regions: readonly Region[];
  readonly geojson: FeatureCollection;
  /** Sum of the weights. */
  readonly total: number;
}

interface Mapped {
  readonly dance: MapDance;
  readonly place: Place;
  readonly weight: number;
}

// Four million cells take a few hundred megabytes and are beyond what any map needs.
const mostCells = 4e6;
const cellsAcross = 200;
const hectareM2 = 1e4;

/**
 * The places of dances and their sum. Dances without a distance are listed and left out of the sum.
 *
 * @param progress told the share done
 * @throws InputError when no dance has a distance, a weight is missing, or the cells are too small
 */
export function foragingMap(
  hive: Site,
  dances: readonly MapDance[],
  feeders: readonly FeederPlace[],
  settings: MapSettings,
  progress: (share: number) => void = () => {},
): ForagingMap {
  const mapped = dances.flatMap((dance): Mapped[] => {
    if (dance.distance === null) return [];
    const weight = weightOf(dance, settings.weight);
    return weight === 0 ? [] : [{ dance, place: placeOf(dance.distance, dance.direction), weight }];
  });
  if (mapped.length === 0) {
    throw new InputError({
      file: 'estimates',
      found: 'no dance with a distance and a used run',
      wanted: 'at least one dance to map',
    });
  }
  const grid = sumGrid(mapped, settings.cellM);
  const regions = regionsOf(grid, mapLevels);
  const own = new Map(
    mapped.map(({ dance, place }, k) => {
      progress(k / mapped.length);
      return [dance, ownRegions(dance, place)];
    }),
  );
  progress(1);
  const places = dances.map((dance) => placeRow(hive, dance, own.get(dance), settings.weight));
  const features = [
    hiveFeature(hive),
    ...feeders.flatMap(feederFeature),
    ...regions.map((region) => regionFeature(hive, region, { kind: 'foraging region' })),
    ...mapped.flatMap(({ dance }) => danceFeatures(hive, dance, own.get(dance)!)),
  ];
  const total = mapped.reduce((sum, { weight }) => sum + weight, 0);
  return { places, grid, regions, geojson: { type: 'FeatureCollection', features }, total };
}

// By density, so that what is forgotten there is forgotten here.
const regionsBefore = new WeakMap<object, Map<string, readonly Region[]>>();

/** Regions of one dance; from before where the same density goes the same way: a page asks again at every choice. */
function ownRegions({ distance, direction }: MapDance, place: Place): readonly Region[] {
  const { density } = distance!;
  const known = regionsBefore.get(density) ?? new Map<string, readonly Region[]>();
  regionsBefore.set(density, known);
  const way = `${direction.meanDeg} ${direction.scaleDeg} ${direction.degreesOfFreedom}`;
  const regions = known.get(way) ?? regionsOf(gridOfPlace(place), mapLevels);
  // Bearings lean on one another, so that an edit may turn them all: the ways of old are of no more use.
  if (!known.has(way)) known.clear();
  known.set(way, regions);
  return regions;
}

function weightOf({ estimate }: MapDance, weight: MapWeight): number {
  if (weight === 'dances') return 1;
  if (estimate.used_runs !== null) return estimate.used_runs;
  throw new InputError({
    file: 'estimates',
    place: `dance ${estimate.dance_id}, column used_runs`,
    found: 'an empty cell',
    wanted: 'the number of used runs, for --weight runs',
  });
}

function sumGrid(mapped: readonly Mapped[], wantedCellM: number | null): MapGrid {
  const extent = union(mapped.map(({ place }) => place.extent));
  const side = Math.max(extent.eastM - extent.westM, extent.northM - extent.southM);
  const cellM = wantedCellM ?? roundCell(side / cellsAcross);
  const cells = cellCount(extent, cellM);
  if (cells > mostCells) {
    throw new InputError({
      file: '--cell',
      found: `${cellM} m, which makes ${Math.round(cells / 1e6)} million cells`,
      wanted: `cells of at least ${roundCell(Math.sqrt((side * side) / mostCells) * 1.1)} m`,
    });
  }
  const grid = emptyGrid(extent, cellM);
  for (const { place, weight } of mapped) addPlace(grid, place, weight);
  return grid;
}

/** The next of 1, 2, 5 times a power of ten that is no smaller; at least half a metre. */
function roundCell(sideM: number): number {
  const power = 10 ** Math.floor(Math.log10(Math.max(sideM, 0.5)));
  return [1, 2, 5, 10].map((step) => step * power).find((cell) => cell >= sideM * (1 - 1e-9))!;
}

const rounded = (value: number, decimals: number): number =>
  Math.round(value * 10 ** decimals) / 10 ** decimals;

function goal(hive: Site, { estimate, direction }: MapDance) {
  return estimate.distance_m === null ? null : goalOf(hive, direction.meanDeg, estimate.distance_m);
}

function placeRow(
  hive: Site,
  dance: MapDance,
  regions: readonly Region[] | undefined,
  weight: MapWeight,
): PlaceRow {
  const { estimate, bearing } = dance;
  const point = goal(hive, dance);
  const areaHa = (k: number) => (regions === undefined ? null : rounded(regions[k].areaM2 / hectareM2, 4));
  const notes = [
    estimate.note,
    bearing.flags,
    regions === undefined ? 'not mapped: no distance or no used run' : null,
  ];
  return {
    dance_id: estimate.dance_id,
    bee_id: estimate.bee_id,
    weight: regions === undefined ? null : weightOf(dance, weight),
    distance_m: estimate.distance_m,
    distance_low_m: estimate.distance_low_m,
    distance_high_m: estimate.distance_high_m,
    bearing_deg: bearing.bearing_deg,
    bearing_low_deg: bearing.bearing_low_deg,
    bearing_high_deg: bearing.bearing_high_deg,
    latitude: point === null ? null : rounded(point.latitudeDeg, 7),
    longitude: point === null ? null : rounded(point.longitudeDeg, 7),
    area_50_ha: areaHa(0),
    area_80_ha: areaHa(1),
    area_95_ha: areaHa(2),
    in_range: estimate.in_range,
    note: notes.filter((note) => note !== null).join('; ') || null,
  };
}

function hiveFeature({ longitudeDeg, latitudeDeg }: Site): Feature {
  return {
    type: 'Feature',
    geometry: pointGeometry(longitudeDeg, latitudeDeg),
    properties: { kind: 'hive' },
  };
}

function feederFeature({ feederId, distanceM, latitudeDeg, longitudeDeg }: FeederPlace): Feature[] {
  if (latitudeDeg === null || longitudeDeg === null) return [];
  return [
    {
      type: 'Feature',
      geometry: pointGeometry(longitudeDeg, latitudeDeg),
      properties: { kind: 'feeder', feeder_id: feederId, distance_m: rounded(distanceM, 2) },
    },
  ];
}

function regionFeature(hive: Site, region: Region, properties: Feature['properties']): Feature {
  return {
    type: 'Feature',
    geometry: multiPolygonOf(hive, region.polygons),
    properties: { ...properties, level: region.level, area_ha: rounded(region.areaM2 / hectareM2, 4) },
  };
}

function danceFeatures(hive: Site, dance: MapDance, regions: readonly Region[]): Feature[] {
  const { dance_id, bee_id, distance_m } = dance.estimate;
  const named = { dance_id, bee_id };
  const point = goal(hive, dance);
  const goals: Feature[] =
    point === null
      ? []
      : [
          {
            type: 'Feature',
            geometry: pointGeometry(point.longitudeDeg, point.latitudeDeg),
            properties: { kind: 'goal', ...named, distance_m, bearing_deg: bearingOf(dance.direction) },
          },
        ];
  return [
    ...goals,
    ...regions.map((region) => regionFeature(hive, region, { kind: 'dance region', ...named })),
  ];
}

const bearingOf = ({ meanDeg }: Direction): number => rounded(meanDeg, 3);
