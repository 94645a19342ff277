import { scaledBesselI } from './bessel.ts';

/** How much the runs of one dance scatter about their own mean, learnt from many dances. */
export interface RunScatter {
  /** Concentration of single runs. */
  readonly kappa: number;
  /** Runs beyond the first of each dance; infinite where the scatter is given rather than learnt. */
  readonly degreesOfFreedom: number;
}

/** The runs of one dance, as the scatter needs them. */
export interface DanceRuns {
  readonly count: number;
  /** Mean resultant length. */
  readonly resultantLength: number;
}

// A standard deviation of 1 degree: no eye and no protractor reads finer.
const finestKappa = 3283;
const steps = 80;

/**
 * Concentration of runs about the mean of their dance, taken as one for all dances: the most likely κ when each
 * dance's mean direction may be any (the marginal likelihood is the product of I0(κR)/I0(κ)ⁿ over dances of n
 * runs with resultant R), which counts each dance's mean as one thing learnt. That angular scatter does not
 * change with distance, so that dances may be pooled: Schürch et al. 2013, J Comp Physiol A 199:1143.
 *
 * @returns null where no dance has two runs
 */
export function pooledRunScatter(dances: readonly DanceRuns[]): RunScatter | null {
  const telling = dances.filter(({ count }) => count > 1);
  const degreesOfFreedom = telling.reduce((sum, { count }) => sum + count - 1, 0);
  if (degreesOfFreedom === 0) return null;
  const logLikelihood = (kappa: number): number => {
    const single = logBesselI0(kappa);
    return telling.reduce(
      (sum, { count, resultantLength }) =>
        sum + logBesselI0(kappa * count * resultantLength) - count * single,
      0,
    );
  };
  return { kappa: mostLikely(logLikelihood), degreesOfFreedom };
}

function logBesselI0(x: number): number {
  return x + Math.log(scaledBesselI(x).order0);
}

/** The κ between 0.01 and `finestKappa` with the highest value of a function with one peak: golden section on ln κ. */
function mostLikely(logLikelihood: (kappa: number) => number): number {
  const golden = (Math.sqrt(5) - 1) / 2;
  let low = Math.log(0.01);
  let high = Math.log(finestKappa);
  for (let k = 0; k < steps && high - low > 1e-9; k++) {
    const left = high - golden * (high - low);
    const right = low + golden * (high - low);
    if (logLikelihood(Math.exp(left)) > logLikelihood(Math.exp(right))) high = right;
    else low = left;
  }
  return Math.exp((low + high) / 2);
}
