import type { MapGrid } from './map-grid.ts';
import type { Site } from './sun.ts';

/** A grid as an ESRI ASCII grid: header, then rows from north to south. `scale` multiplies every value. */
export function asciiGrid(grid: MapGrid, scale = 1): string {
  const { columns, rows, westM, southM, cellM, values } = grid;
  const lines = [
    `ncols ${columns}`,
    `nrows ${rows}`,
    `xllcorner ${westM}`,
    `yllcorner ${southM}`,
    `cellsize ${cellM}`,
    'NODATA_value -9999',
  ];
  for (let row = rows - 1; row >= 0; row--) {
    const cells = Array.from(values.subarray(row * columns, (row + 1) * columns), (value) =>
      String(Number((value * scale).toPrecision(6))),
    );
    lines.push(cells.join(' '));
  }
  return `${lines.join('\n')}\n`;
}

/** The grid's coordinate system for GIS, as the .prj file beside it: azimuthal equidistant about the hive, WGS84. */
export function hiveProjection({ latitudeDeg, longitudeDeg }: Site): string {
  const sphere = 'GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],';
  return (
    `PROJCS["Azimuthal_Equidistant_about_the_hive",${sphere}PRIMEM["Greenwich",0.0],` +
    'UNIT["Degree",0.0174532925199433]],PROJECTION["Azimuthal_Equidistant"],PARAMETER["False_Easting",0.0],' +
    `PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",${longitudeDeg}],` +
    `PARAMETER["Latitude_Of_Origin",${latitudeDeg}],UNIT["Meter",1.0]]\n`
  );
}
