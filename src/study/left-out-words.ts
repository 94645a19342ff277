import { isSaturated } from '../calibration/curves/curve.ts';
import { curveNamed } from '../calibration/curves/registry.ts';
import type { MeasureRecord } from './calibration-record.ts';

/** Whether a curve goes through the mean of every distance, so that none can be left out and told. */
export const fillsDistances = (name: string, { counts }: Pick<MeasureRecord, 'counts'>): boolean => {
  const curve = curveNamed(name);
  return curve !== undefined && isSaturated(curve, counts.feeders);
};

/** Why no distance could be told without its own dances, in a sentence; null where some could. */
export function whyNoneLeftOut(measure: MeasureRecord): string | null {
  if (measure.leaveOneOut.some(({ errorM }) => errorM !== null)) return null;
  const none = 'No distance could be told without its own dances';
  if (!fillsDistances(measure.curve, measure)) {
    return `${none}: the ${measure.curve} curve could not be fitted to the others, or does not reach it.`;
  }
  const parameters = curveNamed(measure.curve)!.parameters.length;
  return `${none}: the ${measure.curve} curve has ${parameters} parameters, and the dances are to ${measure.counts.feeders} distances.`;
}
