import { levenbergMarquardt } from 'ml-levenberg-marquardt';
import { columnLengths, gradientAt, type Model, type Points, sumOfSquares } from './linearisation.ts';

const mostRounds = 40;

/**
 * Goes from starting values towards the least sum of squares with ml-levenberg-marquardt.
 *
 * The library adds its damping to the bare diagonal of JᵀJ, which only makes sense when the parameters are
 * of like size: each round therefore measures every parameter in units in which its column of the Jacobian
 * has length 1 (Marquardt's scaling). It also walks on from steps that made things worse; a round that found
 * nothing better is begun again, more damped, from the best point so far.
 *
 * @param firstDamping damping of the first round, in those units: 0 would be Gauss–Newton, far above 1 is
 *   steepest descent in small steps
 * @returns the best parameters found; whether they are a minimum is for the caller to verify
 */
export function approach(
  points: Points,
  model: Model,
  start: readonly number[],
  firstDamping: number,
): readonly number[] {
  let best = start;
  let least = sumOfSquares(points, model, best);
  let damping = firstDamping;
  for (let round = 0; round < mostRounds && damping < 1e6; round++) {
    const found = oneRound(points, model, best, damping);
    const sum = sumOfSquares(points, model, found);
    if (sum < least) {
      const gain = (least - sum) / least;
      best = found;
      least = sum;
      if (gain < 1e-9) break;
    } else {
      damping *= 10;
    }
  }
  return best;
}

function oneRound(
  points: Points,
  model: Model,
  start: readonly number[],
  damping: number,
): readonly number[] {
  const lengths = columnLengths(points, model, start);
  const inUnits = (scaled: readonly number[]) => scaled.map((value, index) => value / lengths[index]);
  try {
    const { parameterValues } = levenbergMarquardt(
      { x: points.x, y: points.y },
      (scaled) => {
        const parameters = inUnits(scaled);
        return (x) => model.value(x, parameters);
      },
      {
        initialValues: start.map((value, index) => value * lengths[index]),
        jacobianFunction: (scaled) => {
          const parameters = inUnits(scaled);
          return (x) => gradientAt(model, x, parameters).map((slope, index) => slope / lengths[index]);
        },
        damping,
        maxIterations: 50,
        // The library's tolerance is an absolute sum of squares; 0 leaves the stopping to the rounds.
        errorTolerance: 0,
      },
    );
    return inUnits(parameterValues);
  } catch {
    // A step to where the model has no finite slope leaves the library with a matrix it cannot invert.
    return start;
  }
}
