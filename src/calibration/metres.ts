import { timeBeyond } from './beyond.ts';
import type { Calibration } from './calibration.ts';
import { curveNamed } from './curves/registry.ts';
import { distanceOf } from './leave-one-out.ts';

const farthestM = 100_000;

/**
 * Shifts of time at a feeder as shifts of the distance that a dance indicates: the distance whose time is that of
 * the feeder and the shift, less the feeder's; never further back than to the hive. Each shift is read off
 * another draw of the curve, so that what is not known of the curve is in their spread.
 *
 * @param shiftsS draws of the shift
 * @param atBest read off the fitted curve itself
 */
export function shiftInMetres(
  calibration: Calibration,
  feederM: number,
  shiftsS: readonly number[],
  atBest = false,
): number[] {
  const curve = curveNamed(calibration.curve)!;
  const { draws, parameters, farthestFeederM } = calibration;
  return shiftsS.map((shiftS, s) => {
    const own = atBest ? parameters : draws[s % draws.length].parameters;
    const timeAt = (distanceM: number) => timeBeyond(curve, own, distanceM, farthestFeederM);
    return (distanceOf(timeAt, timeAt(feederM) + shiftS, farthestM) ?? farthestM) - feederM;
  });
}
