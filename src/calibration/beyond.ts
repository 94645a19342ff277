import type { Curve } from './curves/curve.ts';

/**
 * Expected time (s) at any distance. Beyond the farthest feeder a curve that levels off goes on straight, with
 * the slope it has at that feeder: that times stop rising is nothing the feeders could show, and a ceiling would
 * leave every long run compatible with every distance up to the end of the prior. Dances are known to grow
 * longer still at many kilometres (Kohl & Rutschmann 2021, PeerJ 9:e11187). Answers there are flagged.
 *
 * @param farthestM distance of the farthest feeder
 */
export function timeBeyond(
  curve: Curve,
  parameters: readonly number[],
  distanceM: number,
  farthestM: number,
): number {
  if (!curve.levelsOff || distanceM <= farthestM) return curve.value(distanceM, parameters);
  return curve.value(farthestM, parameters) + curve.slope(farthestM, parameters) * (distanceM - farthestM);
}
