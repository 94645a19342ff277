/** Degrees to radians. */
export const radians = (degrees: number): number => (degrees * Math.PI) / 180;

/** Radians to degrees. */
export const degrees = (radians: number): number => (radians * 180) / Math.PI;

/** The same direction in [0, 360) degrees. */
export function within360(angleDeg: number): number {
  const rest = angleDeg % 360;
  if (rest >= 0) return rest + 0;
  // A negative angle too small to tell from 0 comes out of the sum as 360 itself.
  return rest + 360 === 360 ? 0 : rest + 360;
}

/** How far `toDeg` lies clockwise of `fromDeg`, in (−180, 180] degrees. */
export function turnDeg(fromDeg: number, toDeg: number): number {
  const turn = within360(toDeg - fromDeg);
  return turn > 180 ? turn - 360 : turn;
}

/** Angle between two directions, 0 to 180 degrees. */
export function apartDeg(oneDeg: number, otherDeg: number): number {
  return Math.abs(turnDeg(oneDeg, otherDeg));
}
