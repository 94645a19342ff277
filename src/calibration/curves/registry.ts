import { brokenLine } from './broken-line.ts';
import type { Curve } from './curve.ts';
import { line } from './line.ts';
import { power } from './power.ts';
import { saturating } from './saturating.ts';

/** Every curve that a calibration may take, the simplest first. */
export const curves: readonly Curve[] = [line, saturating, power, brokenLine];

/** The curve of that name, or undefined. */
export function curveNamed(name: string): Curve | undefined {
  return curves.find((curve) => curve.name === name);
}
