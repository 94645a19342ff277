import type { Curve } from './curve.ts';
import { line } from './line.ts';
import { saturating } from './saturating.ts';

/** Every curve that a calibration may take, the simplest first. */
export const curves: readonly Curve[] = [
  line, //
  saturating,
];

/** The curve of that name, or undefined. */
export function curveNamed(name: string): Curve | undefined {
  return curves.find((curve) => curve.name === name);
}
