/** Where the parabola through three equally spaced values has its top, from the middle one, in steps. */
export function peakOffset(before: number, here: number, after: number): number {
  const curvature = before - 2 * here + after;
  return curvature >= 0 ? 0 : Math.max(-0.5, Math.min(0.5, (0.5 * (before - after)) / curvature));
}
