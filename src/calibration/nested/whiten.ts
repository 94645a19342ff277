import type { Curve } from '../curves/curve.ts';
import { linearise, type Model, type Points } from '../linearisation.ts';
import type { NestedData } from './data.ts';
import { runSdAt, type Variances } from './variances.ts';

/** Dance means and a curve, both multiplied by V^(−1/2): ordinary least squares on them is generalised. */
export interface Whitened {
  /** x is the dance's place in the data. */
  readonly points: Points;
  readonly model: Required<Model>;
  /** (JᵀV⁻¹J)⁻¹ at these parameters, or undefined where the dances cannot tell them apart. */
  covarianceAt(parameters: readonly number[]): number[][] | undefined;
}

/**
 * Of a bee's block V = diag(v) + β·11ᵀ the square root of the inverse is, up to a rotation,
 * diag(w^½)·(I − c·1 wᵀ) with w = 1/v, S = Σw and c = (1 − 1/√(1 + βS))/S.
 */
export function whiten(data: NestedData, variances: Variances, curve: Curve): Whitened {
  const { beeStart } = data;
  const weight = data.reach.map(
    (reach, j) => 1 / (variances.dance + runSdAt(reach, data.reaches[0], variances) ** 2 / data.count[j]),
  );
  const bee = new Int32Array(data.dances);
  const pull = new Float64Array(beeStart.length - 1);
  for (let b = 0; b < pull.length; b++) {
    const total = weight.subarray(beeStart[b], beeStart[b + 1]).reduce((sum, w) => sum + w, 0);
    pull[b] = (1 - 1 / Math.sqrt(1 + variances.bee * total)) / total;
    bee.fill(b, beeStart[b], beeStart[b + 1]);
  }
  const distanceM = data.reach.map((reach) => reach * data.farthestM);
  const atDance = (j: number, of: (dance: number) => number): number => {
    const b = bee[j];
    let sum = 0;
    if (pull[b] > 0) for (let i = beeStart[b]; i < beeStart[b + 1]; i++) sum += weight[i] * of(i);
    return Math.sqrt(weight[j]) * (of(j) - pull[b] * sum);
  };
  const places = Array.from({ length: data.dances }, (_, j) => j);
  const points = { x: places, y: places.map((j) => atDance(j, (i) => data.mean[i])) };
  const model = {
    value: (j: number, parameters: readonly number[]) =>
      atDance(j, (i) => curve.value(distanceM[i], parameters)),
    gradient: (j: number, parameters: readonly number[]) => {
      const slopes = new Map<number, number[]>();
      const slopeOf = (i: number) => {
        const known = slopes.get(i) ?? curve.gradient(distanceM[i], parameters);
        slopes.set(i, known);
        return known;
      };
      return parameters.map((_, k) => atDance(j, (i) => slopeOf(i)[k]));
    },
  };
  return {
    points,
    model,
    covarianceAt: (parameters) => {
      const tangent = linearise(points, model, parameters);
      return tangent === undefined || !(tangent.condition < 1e8)
        ? undefined
        : tangent.inverseCrossproduct.map((row) => [...row]);
    },
  };
}
