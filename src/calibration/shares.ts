import { quantile } from 'd3-array';
import type { Ranged, Scatter, Shares } from './calibration.ts';
import type { Curve } from './curves/curve.ts';
import type { Components, NestedData } from './nested/data.ts';
import { designColumns } from './nested/design.ts';
import type { Draw } from './nested/draws.ts';
import type { CurveFit } from './nested/fit-curve.ts';
import { runSdAt, type Variances } from './nested/variances.ts';

const level = 0.95;

/**
 * SDs of the nested model by restricted maximum likelihood, with 95 % intervals from the posterior's draws: quantiles
 * straight between order statistics (type 7 of Hyndman & Fan 1996; from memory).
 */
export function scatterOf(components: Components, variances: Variances, draws: readonly Draw[]): Scatter {
  const ranged = (of: (variances: Variances) => number): Ranged => {
    const drawn = draws.map((draw) => of(draw.variances));
    return {
      value: of(variances),
      // A component found to be nothing may be nothing, though no draw is.
      low: Math.min(quantile(drawn, (1 - level) / 2)!, of(variances)),
      high: Math.max(quantile(drawn, (1 + level) / 2)!, of(variances)),
    };
  };
  return {
    betweenBeesS: components.bee ? ranged(({ bee }) => Math.sqrt(bee)) : null,
    betweenDancesS: components.dance ? ranged(({ dance }) => Math.sqrt(dance)) : null,
    runsNearS: ranged(({ nearRunSd }) => nearRunSd),
    runsFarS: ranged(({ farRunSd }) => farRunSd),
  };
}

/**
 * Intraclass correlations and R² over the used runs: with the variance F of fitted values, B between bees, D
 * between dances, and the runs' mean variance R, marginal R² is F/(F + B + D + R) and conditional R²
 * (F + B + D)/(F + B + D + R) (Nakagawa & Schielzeth 2013, Methods Ecol Evol 4:133; from memory).
 */
export function sharesOf(data: NestedData, curve: Curve, { fit, shape }: CurveFit): Shares {
  const columns = designColumns(curve, data, shape);
  let mean = 0;
  let square = 0;
  let runVariance = 0;
  for (let j = 0; j < data.dances; j++) {
    const fitted = columns.reduce((sum, column, k) => sum + column[j] * fit.coefficients[k], 0);
    const share = data.count[j] / data.runs;
    mean += share * fitted;
    square += share * fitted ** 2;
    runVariance += share * runSdAt(data.reach[j], data.reaches[0], fit.variances) ** 2;
  }
  const ofCurve = Math.max(square - mean ** 2, 0);
  const { bee, dance } = fit.variances;
  const scatter = bee + dance + runVariance;
  const whole = ofCurve + scatter;
  return {
    beeShare: scatter > 0 ? bee / scatter : 0,
    danceShare: scatter > 0 ? (bee + dance) / scatter : 0,
    marginalRSquared: whole > 0 ? ofCurve / whole : 0,
    conditionalRSquared: whole > 0 ? (ofCurve + bee + dance) / whole : 0,
  };
}
