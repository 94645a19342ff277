import { join } from 'node:path';
import { asciiGrid, hiveProjection } from '../bearing/ascii-grid.ts';
import type { Site } from '../bearing/sun.ts';
import { counted } from './counted.ts';
import { writeTable, writeWhole } from './csv.ts';
import type { ClockFindings } from './day/clock-words.ts';
import { makeFolder } from './make-folder.ts';
import type { MapWeight } from './map-weights.ts';
import type { ForagingMap } from './maps.ts';
import { placeSchema } from './maps-tables.ts';
import { textTable } from './text-table.ts';

const hectareM2 = 1e4;

/**
 * Writes a map into a folder, made if need be: map.geojson (RFC 7946), density.asc (ESRI ASCII grid, per hectare)
 * with density.prj, places.csv.
 *
 * @returns the files written
 */
export async function writeMap(folder: string, hive: Site, map: ForagingMap): Promise<string[]> {
  makeFolder(folder);
  const at = (name: string) => join(folder, name);
  await writeWhole(at('map.geojson'), `${JSON.stringify(map.geojson)}\n`);
  await writeWhole(at('density.asc'), asciiGrid(map.grid, hectareM2));
  await writeWhole(at('density.prj'), hiveProjection(hive));
  await writeTable(at('places.csv'), placeSchema, map.places);
  return ['map.geojson', 'density.asc', 'density.prj', 'places.csv'].map(at);
}

/** A map for people to read: its regions, then one line per dance. */
export function mapText(map: ForagingMap, weight: MapWeight): string {
  const { grid, places, regions, total } = map;
  const left = places.filter(({ weight }) => weight === null).length;
  const fixed = (value: number | null, decimals: number) => (value === null ? '' : value.toFixed(decimals));
  const mean = (level: number, areaM2: number) => ((level * total) / (areaM2 / hectareM2)).toPrecision(3);
  return `${[
    `${counted(places.length - left, 'dance')} mapped${left === 0 ? '' : `, ${left} left out`}; ` +
      `cells of ${grid.cellM} m, ${grid.columns} by ${grid.rows}`,
    '',
    textTable([
      ['share', 'area ha', `mean ${weight} per ha`],
      ...regions.map(({ level, areaM2 }) => [
        `${Math.round(level * 100)} %`,
        (areaM2 / hectareM2).toFixed(2),
        mean(level, areaM2),
      ]),
    ]),
    '',
    textTable([
      ['dance', 'distance m', 'bearing °', 'latitude', 'longitude', '95 % area ha', 'note'],
      ...places.map((place) => [
        place.dance_id,
        fixed(place.distance_m, 0),
        fixed(place.bearing_deg, 1),
        fixed(place.latitude, 6),
        fixed(place.longitude, 6),
        fixed(place.area_95_ha, 2),
        place.note ?? '',
      ]),
    ]),
    '',
    'Each place is a probability, not a finding.',
  ].join('\n')}\n`;
}

/** The same for machines. @param clock what a study's own dances say of it; null for a map of tables */
export function mapJson(
  { grid, places, regions, total }: ForagingMap,
  weight: MapWeight,
  clock: ClockFindings | null,
): string {
  return JSON.stringify(
    {
      weight,
      total,
      cell_m: grid.cellM,
      columns: grid.columns,
      rows: grid.rows,
      west_m: grid.westM,
      south_m: grid.southM,
      regions: regions.map(({ level, areaM2, threshold }) => ({
        level,
        area_ha: areaM2 / hectareM2,
        density_per_ha: threshold * hectareM2,
      })),
      places,
      clock,
    },
    null,
    2,
  );
}
