import type { Curve } from '../curves/curve.ts';
import type { NestedData } from './data.ts';

/** Design columns of a curve of a given shape, and one more column where a treatment or the like asks for it. */
export function designColumns(curve: Curve, data: NestedData, shape: number): Float64Array[] {
  return [
    new Float64Array(data.dances).fill(1),
    ...Array.from({ length: curve.columns }, (_, column) =>
      atDances(data, (reach) => curve.column(column, reach, shape)),
    ),
  ];
}

/** A function of reach at each dance, reckoned once for each feeder. */
function atDances({ reaches, feeder, dances }: NestedData, of: (reach: number) => number): Float64Array {
  const values = reaches.map(of);
  const spread = new Float64Array(dances);
  for (let j = 0; j < dances; j++) spread[j] = values[feeder[j]];
  return spread;
}

/** Derivative of the curve by its shape at each dance (central difference), for coefficients on the columns. */
export function shapeSlope(
  curve: Curve,
  data: NestedData,
  coefficients: ArrayLike<number>,
  shape: number,
): Float64Array {
  const step = Math.cbrt(Number.EPSILON) * Math.max(Math.abs(shape), 1e-3);
  const at = (reach: number, where: number) => {
    let value = 0;
    for (let k = 0; k < curve.columns; k++) value += coefficients[k + 1] * curve.column(k, reach, where);
    return value;
  };
  return atDances(data, (reach) => (at(reach, shape + step) - at(reach, shape - step)) / (2 * step));
}

/** Shapes spread over their bounds: evenly, or by equal factors where the bounds are far apart. */
export function shapeGrid(curve: Curve, reaches: readonly number[], count: number): number[] {
  const bounds = curve.shapeBounds(reaches);
  if (bounds === null) return [0];
  const [lowest, highest] = bounds;
  const byFactor = lowest > 0 && highest / lowest > 100;
  return Array.from({ length: count }, (_, k) => {
    const share = k / (count - 1);
    return byFactor ? lowest * (highest / lowest) ** share : lowest + (highest - lowest) * share;
  });
}
