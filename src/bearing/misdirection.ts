import { degrees, radians, turnDeg } from './angles.ts';
import type { VariancePart } from './direction.ts';
import { harmonicRow, largestGapDeg, type WeightedFit, weightedFit } from './harmonics.ts';
import { kappaOfSd } from './von-mises.ts';

/** A dance to a feeder of known bearing. */
export interface KnownDance {
  /** Mean comb angle of its used runs, degrees clockwise from straight up. */
  readonly combAngleDeg: number;
  /** How far clockwise of the feeder's bearing the dance points, degrees. */
  readonly deviationDeg: number;
  /** Variance of its mean that comes from the scatter of its runs, degrees². */
  readonly runVarianceDeg2: number;
}

/**
 * One way misdirection may hang on comb angle α (degrees clockwise), m(α) = a0 + Σ (aₖ sin kα + bₖ cos kα), and
 * the variance of dances about it beyond that of their runs, exp(g0 + g1 cos 2α) in degrees².
 */
export interface MisdirectionForm {
  /** Harmonics in m(α): 0, 1 or 2. */
  readonly order: number;
  /** a0, a1, b1, a2, b2, as far as the order goes; degrees. */
  readonly coefficients: readonly number[];
  readonly covariance: readonly (readonly number[])[];
  /** g0 and, where the scatter may depend on comb angle, g1. */
  readonly scatter: readonly number[];
  readonly degreesOfFreedom: number;
  readonly aicc: number;
  /** Akaike weight: how much the form counts; all add up to 1. */
  readonly weight: number;
}

/** What dances to feeders of known bearing tell of misdirection and of the scatter of dances. */
export interface DirectionCalibration {
  readonly dances: number;
  /** The best first. */
  readonly forms: readonly MisdirectionForm[];
  /** Variance that the runs' own scatter gave these dances, on average, degrees². */
  readonly meanRunVarianceDeg2: number;
  /** Comb angles learnt from. */
  readonly combAnglesDeg: readonly number[];
}

/** Fewer dances than this tell a slip of one dance from no misdirection of all. */
const fewestKnownDances = 5;

interface Form {
  readonly order: number;
  readonly scatterTerms: number;
}

interface Fitted extends Form {
  readonly scatter: readonly number[];
  readonly fit: WeightedFit;
  readonly aicc: number;
}

/**
 * Fits misdirection and scatter to dances for feeders of known bearing. Variances by restricted likelihood, the
 * harmonics by weighted least squares. How many harmonics there are, and whether the scatter depends on comb
 * angle, is seldom certain from the dances at hand, so all forms count, each by its AICc (Burnham & Anderson
 * 2002, Model Selection and Multimodel Inference, section 4.2). A harmonic is tried only where the comb angles
 * leave no gap that it would have to bridge.
 *
 * @returns null for fewer than `fewestKnownDances`
 */
export function calibrateDirection(dances: readonly KnownDance[]): DirectionCalibration | null {
  if (dances.length < fewestKnownDances) return null;
  const combAnglesDeg = dances.map(({ combAngleDeg }) => combAngleDeg);
  const fits = formsFor(combAnglesDeg)
    .map((form) => fitForm(dances, form))
    .sort((a, b) => a.aicc - b.aicc);
  const shares = fits.map(({ aicc }) => Math.exp((fits[0].aicc - aicc) / 2));
  const total = shares.reduce((sum, share) => sum + share, 0);
  return {
    dances: dances.length,
    forms: fits.map(({ order, fit, scatter, aicc }, k) => ({
      order,
      coefficients: fit.coefficients,
      covariance: fit.covariance,
      scatter,
      degreesOfFreedom: dances.length - fit.coefficients.length,
      aicc,
      weight: shares[k] / total,
    })),
    meanRunVarianceDeg2: dances.reduce((sum, dance) => sum + dance.runVarianceDeg2, 0) / dances.length,
    combAnglesDeg,
  };
}

/** The forms that these comb angles can carry, the simplest first. */
function formsFor(combAnglesDeg: readonly number[]): Form[] {
  const gap = largestGapDeg(combAnglesDeg);
  return [0, 1, 2]
    .filter((order) => order === 0 || gap <= 180 / order)
    .flatMap((order) => [1, ...(gap <= 90 ? [2] : [])].map((scatterTerms) => ({ order, scatterTerms })))
    .filter(({ order, scatterTerms }, k) => k === 0 || combAnglesDeg.length > 3 + 2 * order + scatterTerms);
}

function fitForm(dances: readonly KnownDance[], form: Form): Fitted {
  const design = dances.map(({ combAngleDeg }) => harmonicRow(combAngleDeg, form.order));
  const values = dances.map(({ deviationDeg }) => turnDeg(0, deviationDeg));
  const fitWith = (scatter: readonly number[]) => {
    const variances = dances.map(
      (dance) => dance.runVarianceDeg2 + danceVariance(scatter, dance.combAngleDeg),
    );
    const fit = weightedFit(design, values, variances);
    const deviance = fit.residuals.reduce(
      (sum, residual, i) => sum + Math.log(2 * Math.PI * variances[i]) + residual ** 2 / variances[i],
      0,
    );
    return { fit, deviance };
  };
  const scatter = leastOf((trial) => {
    const { fit, deviance } = fitWith(trial);
    return deviance + fit.logDeterminant;
  }, form.scatterTerms);
  const { fit, deviance } = fitWith(scatter);
  const parameters = 1 + 2 * form.order + form.scatterTerms;
  const spare = dances.length - parameters - 1;
  // Hurvich & Tsai 1989, Biometrika 76:297.
  const aicc =
    spare <= 0 ? deviance : deviance + 2 * parameters + (2 * parameters * (parameters + 1)) / spare;
  return { ...form, scatter, fit, aicc };
}

const danceVariance = ([g0, g1]: readonly number[], combAngleDeg: number): number =>
  Math.exp(g0 + (g1 ?? 0) * Math.cos(radians(2 * combAngleDeg)));

// Standard deviations of dances from a tenth of a degree to half a turn.
const g0Range = [2 * Math.log(0.1), 2 * Math.log(180)] as const;
const g1Range = [-3, 3] as const;

/** Least of a smooth function of one or two scatter terms: golden section along each in turn. */
function leastOf(value: (scatter: readonly number[]) => number, terms: number): number[] {
  let scatter = terms === 1 ? [2 * Math.log(5)] : [2 * Math.log(5), 0];
  for (let sweep = 0; sweep < (terms === 1 ? 1 : 12); sweep++) {
    const before = scatter;
    for (let term = 0; term < terms; term++) {
      const along = (x: number) => scatter.map((old, k) => (k === term ? x : old));
      const [low, high] = term === 0 ? g0Range : g1Range;
      scatter = along(goldenSection((x) => value(along(x)), low, high));
    }
    if (scatter.every((now, k) => Math.abs(now - before[k]) < 2e-3)) break;
  }
  return scatter;
}

function goldenSection(value: (x: number) => number, from: number, to: number): number {
  const golden = (Math.sqrt(5) - 1) / 2;
  let low = from;
  let high = to;
  while (high - low > 1e-3) {
    const left = high - golden * (high - low);
    const right = low + golden * (high - low);
    if (value(left) < value(right)) high = right;
    else low = left;
  }
  return (low + high) / 2;
}

/** What a calibration says of dances at one comb angle. */
export interface Misdirection {
  /** How far clockwise of the goal dances point, degrees. */
  readonly biasDeg: number;
  /** Variance, degrees², of a dance about the goal beyond that of its runs, the fit's own doubt in it. */
  readonly variance: VariancePart;
  /** Standard deviation of dances about the misdirection, degrees. */
  readonly danceSdDeg: number;
  /** The von Mises concentration of the same spread. */
  readonly danceKappa: number;
  /** Angle to the nearest comb angle learnt from, degrees. */
  readonly nearestLearntDeg: number;
}

/**
 * Misdirection at a comb angle (degrees clockwise from straight up): the forms' mean by weight; its variance adds
 * how far they differ.
 */
export function misdirectionAt(calibration: DirectionCalibration, combAngleDeg: number): Misdirection {
  const read = calibration.forms.map((form) => {
    const row = harmonicRow(combAngleDeg, form.order);
    return {
      weight: form.weight,
      biasDeg: row.reduce((sum, entry, k) => sum + entry * form.coefficients[k], 0),
      doubt: row.reduce(
        (sum, entry, i) =>
          sum + row.reduce((part, other, j) => part + entry * other * form.covariance[i][j], 0),
        0,
      ),
      own: danceVariance(form.scatter, combAngleDeg),
      degreesOfFreedom: form.degreesOfFreedom,
    };
  });
  const mean = (value: (one: (typeof read)[number]) => number) =>
    read.reduce((sum, one) => sum + one.weight * value(one), 0);
  const biasDeg = mean((one) => one.biasDeg);
  const own = mean((one) => one.own);
  const variance = own + mean((one) => one.doubt + (one.biasDeg - biasDeg) ** 2);
  // What was seen is dances' scatter and runs' together, and the doubt in that sum falls on the dances' part alone.
  const seen = own + calibration.meanRunVarianceDeg2;
  const danceSdDeg = Math.sqrt(own);
  return {
    biasDeg,
    variance: {
      variance,
      degreesOfFreedom: mean((one) => one.degreesOfFreedom) * Math.min(variance / seen, 1) ** 2,
    },
    danceSdDeg,
    danceKappa: kappaOfSd(danceSdDeg),
    nearestLearntDeg: Math.min(
      ...calibration.combAnglesDeg.map((learnt) => Math.abs(turnDeg(learnt, combAngleDeg))),
    ),
  };
}

/** Variance (degrees²) of the mean direction of runs of a given concentration and resultant. */
export function runVarianceDeg2(kappa: number, count: number, resultantLength: number): number {
  return degrees(1) ** 2 / Math.max(kappa * count * resultantLength, 1e-3);
}
