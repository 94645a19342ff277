/**
 * Values on square cells of a plane map around the hive: x east, y north, in metres from the hive, on which
 * distances and bearings from the hive are true. Row 0 is the southernmost, column 0 the westernmost; values
 * run along rows and belong to the cells' middles.
 */
export interface MapGrid {
  readonly columns: number;
  readonly rows: number;
  /** West and south edge of the grid, metres from the hive. */
  readonly westM: number;
  readonly southM: number;
  readonly cellM: number;
  readonly values: Float64Array;
}

/** A part of the plane, metres from the hive. */
export interface Extent {
  readonly westM: number;
  readonly eastM: number;
  readonly southM: number;
  readonly northM: number;
}

/** A grid of zeros that covers an extent with one spare cell all around, its cells' edges at whole cells from the hive. */
export function emptyGrid(extent: Extent, cellM: number): MapGrid {
  const east = cellsAlong(extent.westM, extent.eastM, cellM);
  const north = cellsAlong(extent.southM, extent.northM, cellM);
  return {
    columns: east.count,
    rows: north.count,
    westM: east.first * cellM,
    southM: north.first * cellM,
    cellM,
    values: new Float64Array(east.count * north.count),
  };
}

/** The cells that cover a stretch with one spare on either side: the first one's place, and how many. */
function cellsAlong(fromM: number, toM: number, cellM: number): { first: number; count: number } {
  const first = Math.floor(fromM / cellM) - 1;
  return { first, count: Math.ceil(toM / cellM) + 1 - first };
}

/** The smallest extent that holds all. */
export function union(extents: readonly Extent[]): Extent {
  return {
    westM: Math.min(...extents.map(({ westM }) => westM)),
    eastM: Math.max(...extents.map(({ eastM }) => eastM)),
    southM: Math.min(...extents.map(({ southM }) => southM)),
    northM: Math.max(...extents.map(({ northM }) => northM)),
  };
}

/** Cells that an emptyGrid of this extent has, without making it. */
export function cellCount(extent: Extent, cellM: number): number {
  const east = cellsAlong(extent.westM, extent.eastM, cellM);
  const north = cellsAlong(extent.southM, extent.northM, cellM);
  return east.count * north.count;
}
