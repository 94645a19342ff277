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
  const first = (edge: number) => Math.floor(edge / cellM) - 1;
  const columns = Math.ceil(extent.eastM / cellM) + 1 - first(extent.westM);
  const rows = Math.ceil(extent.northM / cellM) + 1 - first(extent.southM);
  return {
    columns,
    rows,
    westM: first(extent.westM) * cellM,
    southM: first(extent.southM) * cellM,
    cellM,
    values: new Float64Array(columns * rows),
  };
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

/** Cells that an emptyGrid of this extent would have. */
export function cellCount(extent: Extent, cellM: number): number {
  return (
    (Math.ceil((extent.eastM - extent.westM) / cellM) + 3) *
    (Math.ceil((extent.northM - extent.southM) / cellM) + 3)
  );
}
