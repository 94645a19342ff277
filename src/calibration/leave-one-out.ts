import { timeBeyond } from './beyond.ts';
import type { CalibrationDance, LeftOutFeeder } from './calibration.ts';
import type { Curve } from './curves/curve.ts';
import { type Trial, tryCurve } from './fit-candidates.ts';
import { identifiable, nestedData } from './nested/data.ts';
import { nestedModel } from './nested/likelihood.ts';

/** A left-out feeder's time is sought up to this many times the farthest feeder's distance. */
const farthestSearch = 20;
const halvings = 60;

/**
 * Fits a curve anew without each feeder in turn and reads that feeder's mean time off it: how well the curve
 * tells distances it has not seen. The nearest and the farthest feeder are told by extrapolation.
 */
export function leaveOneOut(dances: readonly CalibrationDance[], trial: Trial): LeftOutFeeder[] {
  const feedersM = [...new Set(dances.map((dance) => dance.distanceM))].sort((left, right) => left - right);
  if (trial.ml === undefined) return [];
  return feedersM.map((feederM) => missOf(dances, feederM, trial.curve));
}

function missOf(dances: readonly CalibrationDance[], feederM: number, curve: Curve): LeftOutFeeder {
  const others = dances.filter((dance) => dance.distanceM !== feederM);
  const own = dances.filter((dance) => dance.distanceM === feederM);
  const unknown = { feederM, errorM: null, errorS: null };
  const data = nestedData(others);
  if (others.length <= curve.parameters.length || data.reaches.length < curve.parameters.length)
    return unknown;
  const { ml } = tryCurve(curve, nestedModel(data, identifiable(data)));
  if (ml === undefined) return unknown;
  const parameters = curve.toParameters(Array.from(ml.fit.coefficients), ml.shape, data.farthestM);
  const meanS = own.reduce((sum, dance) => sum + dance.meanS, 0) / own.length;
  const timeAt = (distanceM: number) => timeBeyond(curve, parameters, distanceM, data.farthestM);
  const readM = distanceOf(timeAt, meanS, farthestSearch * Math.max(feederM, data.farthestM));
  return {
    feederM,
    errorM: readM === null ? null : readM - feederM,
    errorS: meanS - timeAt(feederM),
  };
}

/** Distance at which a rising curve takes a time: 0 below its start, null above what it reaches. */
export function distanceOf(
  timeAt: (distanceM: number) => number,
  timeS: number,
  farthestM: number,
): number | null {
  if (timeS <= timeAt(0)) return 0;
  if (timeS >= timeAt(farthestM)) return null;
  let low = 0;
  let high = farthestM;
  for (let i = 0; i < halvings; i++) {
    const middle = (low + high) / 2;
    if (timeAt(middle) < timeS) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** Root of the mean square; null where a value is unknown or there are none. */
export function rootMeanSquare(values: readonly (number | null)[]): number | null {
  if (values.length === 0 || values.includes(null)) return null;
  return Math.sqrt(values.reduce<number>((sum, value) => sum + value! ** 2, 0) / values.length);
}
