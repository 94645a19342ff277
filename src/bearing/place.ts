import { radians, turnDeg } from './angles.ts';
import { type Direction, directionDensity, halfWidthDeg } from './direction.ts';
import { type DistanceDensity, distanceLookup } from './distance-density.ts';
import { type Extent, emptyGrid, type MapGrid } from './map-grid.ts';

/** Posterior of the place that a dance tells of: distance and direction, independent of one another. */
export interface Place {
  /** Density per square metre at a point x m east and y m north of the hive; 0 outside the extent. */
  densityAt(xM: number, yM: number): number;
  /** Holds all but a thousandth or two of the probability. */
  readonly extent: Extent;
  /** Middle of the extent's distances and half its range, and the half angle it spans, for choosing cells. */
  readonly nearM: number;
  readonly farM: number;
  readonly halfAngleDeg: number;
}

const held = 0.999;

/**
 * Posterior of place: the density of distance times that of direction, over the distance, since a ring of a
 * given width holds more ground the farther out it lies (the Jacobian of polar coordinates).
 *
 * @throws RangeError for a density of distance that is none
 */
export function placeOf(distance: DistanceDensity, direction: Direction): Place {
  const lookup = distanceLookup(distance);
  const around = directionDensity(direction);
  const nearM = lookup.quantile((1 - held) / 2);
  const farM = lookup.quantile((1 + held) / 2);
  const halfAngleDeg = halfWidthDeg(direction, held);
  return {
    densityAt: (xM, yM) => {
      const distanceM = Math.sqrt(xM * xM + yM * yM);
      const along = lookup.densityAt(distanceM);
      return along === 0 ? 0 : (along * around((Math.atan2(xM, yM) * 180) / Math.PI)) / distanceM;
    },
    extent: extentOf(nearM, farM, direction.meanDeg, halfAngleDeg),
    nearM,
    farM,
    halfAngleDeg,
  };
}

/** Extent of the part of a ring between two distances and within an angle of a bearing. */
function extentOf(nearM: number, farM: number, meanDeg: number, halfAngleDeg: number): Extent {
  const bearings = [meanDeg - halfAngleDeg, meanDeg, meanDeg + halfAngleDeg];
  for (const axis of [0, 90, 180, 270]) {
    if (Math.abs(turnDeg(meanDeg, axis)) <= halfAngleDeg) bearings.push(axis);
  }
  const points = bearings.flatMap((bearing) =>
    [nearM, farM].map((distance) => ({
      x: distance * Math.sin(radians(bearing)),
      y: distance * Math.cos(radians(bearing)),
    })),
  );
  return {
    westM: Math.min(...points.map(({ x }) => x)),
    eastM: Math.max(...points.map(({ x }) => x)),
    southM: Math.min(...points.map(({ y }) => y)),
    northM: Math.max(...points.map(({ y }) => y)),
  };
}

const cellsAcross = 120;
const ownSubcells = 2;

/** The posterior of one place on a grid of its own, about 120 cells across, as probability per square metre. */
export function gridOfPlace(place: Place): MapGrid {
  const { westM, eastM, southM, northM } = place.extent;
  const cellM = Math.max(eastM - westM, northM - southM, 1) / cellsAcross;
  const grid = emptyGrid(place.extent, cellM);
  addPlace(grid, place, 1, ownSubcells);
  return grid;
}

/**
 * Adds a place's posterior, times a weight, to a grid: each cell gets its mean density, from points within it,
 * set so that the whole adds up to the weight.
 *
 * @param subcells points along either side of a cell; by default as many as the place is narrow
 */
export function addPlace(
  grid: MapGrid,
  place: Place,
  weight: number,
  subcells = subcellsFor(place, grid.cellM),
): void {
  const { columns, rows, westM, southM, cellM, values } = grid;
  const within = (edgeM: number, originM: number, most: number) =>
    Math.min(Math.max(Math.floor((edgeM - originM) / cellM), 0), most);
  const fromColumn = within(place.extent.westM, westM, columns - 1);
  const toColumn = within(place.extent.eastM, westM, columns - 1);
  const fromRow = within(place.extent.southM, southM, rows - 1);
  const toRow = within(place.extent.northM, southM, rows - 1);
  const width = toColumn - fromColumn + 1;
  const own = new Float64Array(width * (toRow - fromRow + 1));
  let total = 0;
  for (let row = fromRow; row <= toRow; row++) {
    for (let column = fromColumn; column <= toColumn; column++) {
      const mean = meanDensity(place, westM + column * cellM, southM + row * cellM, cellM, subcells);
      own[(row - fromRow) * width + column - fromColumn] = mean;
      total += mean;
    }
  }
  if (total === 0) return;
  const factor = weight / (total * cellM * cellM);
  for (let row = fromRow; row <= toRow; row++) {
    for (let column = fromColumn; column <= toColumn; column++) {
      values[row * columns + column] += factor * own[(row - fromRow) * width + column - fromColumn];
    }
  }
}

function meanDensity(place: Place, westM: number, southM: number, cellM: number, subcells: number): number {
  const step = cellM / subcells;
  let sum = 0;
  for (let j = 0; j < subcells; j++) {
    for (let i = 0; i < subcells; i++) {
      sum += place.densityAt(westM + (i + 0.5) * step, southM + (j + 0.5) * step);
    }
  }
  return sum / (subcells * subcells);
}

const mostSubcells = 16;

/** Enough points in a cell that the narrow way across the place is not stepped over. */
function subcellsFor({ nearM, farM, halfAngleDeg }: Place, cellM: number): number {
  const across = Math.min(farM - nearM, ((nearM + farM) / 2) * radians(2 * halfAngleDeg));
  return Math.min(Math.max(Math.ceil((cellM * 20) / Math.max(across, 1e-9)), 2), mostSubcells);
}
