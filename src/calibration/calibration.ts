import type { Components, NestedDance } from './nested/data.ts';
import type { Draw } from './nested/draws.ts';

/** A dance to a feeder at a known distance, its used runs summed up. */
export interface CalibrationDance extends NestedDance {
  readonly danceId: string;
}

/** One curve that was tried. */
export interface Candidate {
  readonly curve: string;
  /** Parameters of the curve and variances. */
  readonly parameterCount: number;
  readonly logLikelihood: number | null;
  /** null where the fit failed or the dances are too few for the criterion. */
  readonly aicc: number | null;
  /** Root mean square over feeders of the misses in `leaveOneOut`; null where one is unknown or none was made. */
  readonly leftOutErrorM: number | null;
  readonly leftOutErrorS: number | null;
  /** Why the curve cannot be used, or null. */
  readonly failure: string | null;
}

/** How far a curve fitted without one feeder misses that feeder. */
export interface LeftOutFeeder {
  readonly feederM: number;
  /** Distance read from the feeder's mean time, less its own (m); null where the curve never takes that time. */
  readonly errorM: number | null;
  /** Mean time at the feeder less the curve's (s). */
  readonly errorS: number | null;
}

/** A figure with its 95 % interval. */
export interface Ranged {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

/** SDs (s) of the nested model; null where the dances cannot tell the component from the one below it. */
export interface Scatter {
  readonly betweenBeesS: Ranged | null;
  readonly betweenDancesS: Ranged | null;
  /** Runs of a dance at the nearest feeder. */
  readonly runsNearS: Ranged;
  /** Runs of a dance at the farthest feeder. */
  readonly runsFarS: Ranged;
}

/** What accounts for the scatter of runs, shares from 0 to 1. */
export interface Shares {
  /** Intraclass correlation: share of a run's scatter that bees account for. */
  readonly beeShare: number;
  /** Share that bees and dances account for. */
  readonly danceShare: number;
  /** R² of the curve alone and of curve, bee and dance (Nakagawa & Schielzeth 2013). */
  readonly marginalRSquared: number;
  readonly conditionalRSquared: number;
}

/** What a calibration rests on. */
export interface Counts {
  readonly feeders: number;
  /** Marked bees. */
  readonly bees: number;
  readonly dances: number;
  /** Used runs. */
  readonly runs: number;
}

/** A fitted curve of time on distance, with all that an estimate of a distance needs. */
export interface Calibration extends Shares {
  readonly curve: string;
  readonly parameters: readonly number[];
  readonly standardErrors: readonly number[];
  readonly covariance: readonly (readonly number[])[];
  readonly components: Components;
  readonly scatter: Scatter;
  readonly restrictedLogLikelihood: number;
  readonly nearestFeederM: number;
  readonly farthestFeederM: number;
  readonly counts: Counts;
  readonly candidates: readonly Candidate[];
  readonly leaveOneOut: readonly LeftOutFeeder[];
  readonly warnings: readonly string[];
  readonly seed: number;
  /** Draws from the posterior; what is uncertain of the curve, an estimate takes from these. */
  readonly draws: readonly Draw[];
  /** What was fitted to. */
  readonly dances: readonly CalibrationDance[];
}

/** A calibration, or why there is none. */
export type CalibrationOutcome =
  | { readonly ok: true; readonly calibration: Calibration }
  /** What was found that cannot be calibrated on, and what is wanted instead. */
  | { readonly ok: false; readonly found: string; readonly wanted: string };
