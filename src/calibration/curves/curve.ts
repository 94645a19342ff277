/** One parameter of a curve, as it is shown and written. Every response is in seconds, every distance in metres. */
export interface CurveParameter {
  readonly name: string;
  readonly unit: string;
}

/** Points a curve is fitted to: one distance and one response (s) for each dance. */
export interface CurvePoints {
  readonly distancesM: readonly number[];
  readonly responsesS: readonly number[];
}

/** A form that the time of a waggle run, or of a whole circuit, may take on distance. */
export interface Curve {
  readonly name: string;
  readonly formula: string;
  readonly parameters: readonly CurveParameter[];
  readonly direction: 'rising' | 'falling';
  /** Response in seconds at a distance of 0 m or more. */
  value(distanceM: number, parameters: readonly number[]): number;
  /** Derivatives of `value` by each parameter. */
  gradient(distanceM: number, parameters: readonly number[]): number[];
  /** Parameters from which a fit to these points may begin; they scale with the units of the points. */
  start(points: CurvePoints): number[];
  /** Why a curve with these parameters cannot be read backwards, or undefined when it can. */
  fault(parameters: readonly number[]): string | undefined;
}
