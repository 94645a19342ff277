/** What a detection was asked to do; part of every result, so that a number can be traced to it. */
export interface DetectorSettings {
  /** Carriers of dance sound are looked for between these, Hz. */
  readonly bandLowHz: number;
  readonly bandHighHz: number;
  /** Trains judged less likely real than this are left out, 0 to 1. */
  readonly leastConfidence: number;
  /** The same for calls. Calls are counted, not measured: one missed costs more than one too many. */
  readonly leastCallConfidence: number;
}

/** Settings that hold unless others are asked for; docs/methods.md says why these. */
export const DEFAULT_SETTINGS: DetectorSettings = {
  bandLowHz: 200,
  bandHighHz: 400,
  leastConfidence: 0.5,
  leastCallConfidence: 0.12,
};

/** In words, the bands that may be searched. */
export const searchableBands = 'two frequencies within 100 to 700 Hz, at least 60 Hz apart, such as 200-400';

/** Whether dance sound can be looked for in a band, Hz. */
export function isSearchable([lowHz, highHz]: readonly [number, number]): boolean {
  return lowHz >= 100 && highHz <= 700 && highHz - lowHz >= 60;
}
