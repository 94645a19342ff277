import { within360 } from './angles.ts';

/** How the comb stands: upright, lying flat, or in between, where dancers go partly by gravity, partly by the sky. */
export const combPostures = ['vertical', 'horizontal', 'oblique'] as const;
/** One of these. */
export type CombPosture = (typeof combPostures)[number];

/**
 * Bearing (degrees clockwise from true north) that a run points to.
 * Vertical comb: straight up stands for the sun's azimuth, so the bearing is the azimuth and the comb angle
 * added. Horizontal comb in sight of the sky: the run points to the goal itself, and the angle is taken as
 * read clockwise from true north. Oblique comb: null, for it cannot be read with certainty.
 *
 * @param combAngleDeg clockwise from straight up (vertical) or from true north (horizontal)
 */
export function bearingOfRun(
  combAngleDeg: number,
  sunAzimuthDeg: number,
  posture: CombPosture,
): number | null {
  if (posture === 'oblique') return null;
  return within360(posture === 'vertical' ? sunAzimuthDeg + combAngleDeg : combAngleDeg);
}

/** Comb angle, clockwise from straight up in [0, 360) degrees, of a run on a vertical comb to a goal. */
export function combAngleTo(bearingDeg: number, sunAzimuthDeg: number): number {
  return within360(bearingDeg - sunAzimuthDeg);
}
