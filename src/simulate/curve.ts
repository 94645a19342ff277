import type { Random } from '../random.ts';
import type { CurveOptions } from './options.ts';

/** A colony's mean run duration on distance, with every parameter settled. */
export type DurationCurve =
  | { readonly kind: 'line'; readonly interceptS: number; readonly slopeSPerM: number }
  | {
      readonly kind: 'saturating';
      readonly interceptS: number;
      readonly riseS: number;
      readonly scaleM: number;
    };

/**
 * Range of slopes between colonies, s/m: "On the accuracy of the distance message in the dances of honey bees"
 * (CAB abstract 19790209325), 15 colonies, 20 to 500 m.
 */
const COLONY_SLOPES_S_PER_M = [0.0007, 0.002] as const;

/** Settles the colony's curve; a slope of 'colony' is drawn from the range found between colonies. */
export function settleCurve(options: CurveOptions, random: Random): DurationCurve {
  const drawn = random.between(...COLONY_SLOPES_S_PER_M);
  if (options.kind === 'saturating') return options;
  const slopeSPerM = options.slopeSPerM === 'colony' ? drawn : options.slopeSPerM;
  return { kind: 'line', interceptS: options.interceptS, slopeSPerM };
}

/** Mean run duration in s at a distance in m. Saturating: intercept + rise (1 − exp(−distance/scale)). */
export function curveDurationS(curve: DurationCurve, distanceM: number): number {
  if (curve.kind === 'line') return curve.interceptS + curve.slopeSPerM * distanceM;
  return curve.interceptS + curve.riseS * (1 - Math.exp(-distanceM / curve.scaleM));
}

/** SD in s of single durations: 0.14 s, growing by 0.025 s per 100 m (CAB abstract 19790209325). */
export function durationSdS(distanceM: number): number {
  return 0.14 + 0.00025 * distanceM;
}

/**
 * Mean return phase in s at a distance in m: what is left of a circuit once a run of 0.25 s + 0.001 s/m is
 * taken off, with about 10 circuits per 15 s at 100 m, 8 at 200, 6 at 500 and 5 at 1000 (figures from memory
 * of the classical tempo curve), straight in the logarithm of distance between them.
 */
export function meanReturnS(distanceM: number): number {
  const points = RETURN_POINTS;
  const place = Math.log(Math.max(distanceM, 1));
  if (place <= points[0]![0]) return points[0]![1];
  for (let index = 1; index < points.length; index++) {
    const [right, above] = points[index]!;
    const [left, below] = points[index - 1]!;
    if (place <= right) return below + ((above - below) * (place - left)) / (right - left);
  }
  return points[points.length - 1]![1];
}

const RETURN_POINTS = (
  [
    [50, 1.05],
    [100, 1.15],
    [200, 1.42],
    [500, 1.75],
    [1000, 1.8],
    [2000, 2.0],
    [5000, 2.3],
  ] as const
).map(([distanceM, returnS]) => [Math.log(distanceM), returnS] as const);
