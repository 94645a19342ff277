import { medianOf } from '../../signal/quantile.ts';
import type { Tone } from '../find-calls.ts';

/** How one kind of call is told from a row of tones. One file each, one line each in `registry.ts`. */
export interface CallKindRule {
  /** As it stands in calls.csv. */
  readonly kind: string;
  /** Kinds are tried by this, the lowest first, and the first that fits wins: series before single tones. */
  readonly turn: number;
  /** The tones that make one call of this kind, the first of `tones` among them; none where it makes none. */
  readonly take: (tones: readonly Tone[]) => readonly Tone[];
}

/** How long a tone sounds, s. */
export const durationS = (tone: Tone): number => tone.endS - tone.startS;

/** Whether a value lies between two limits, both included. */
export const between = (value: number, low: number, high: number): boolean => value >= low && value <= high;

/** A call of a single tone of such a duration, s, and carrier, Hz. */
export function oneTone(
  shortestS: number,
  longestS: number,
  lowHz: number,
  highHz: number,
): CallKindRule['take'] {
  return (tones) => {
    const tone = tones[0]!;
    const fits = between(durationS(tone), shortestS, longestS) && between(tone.carrierHz, lowHz, highHz);
    return fits ? [tone] : [];
  };
}

/** What the tones of a series have in common. */
export interface SeriesLimits {
  /** Longest silence between a tone and the next, s; after a first or second of 0.3 s or more, the opening's. */
  readonly gapS: number;
  readonly openingGapS?: number;
  /** How far a tone's carrier may lie from the median of the series so far, Hz; by the opening, the opening's. */
  readonly hz: number;
  readonly openingHz?: number;
  readonly fits: (tone: Tone, position: number) => boolean;
}

/**
 * The tones of a series that begins with the first: each stays near the carrier of those before, follows the last one
 * soon, and fits. Another bee may sound meanwhile, and hum: their tones are passed over.
 */
export function seriesOf(tones: readonly Tone[], limits: SeriesLimits): Tone[] {
  const series: Tone[] = [];
  for (const tone of tones) {
    const before = series.at(-1);
    if (before !== undefined) {
      const isOpening = series.length <= 2 && durationS(before) >= 0.3;
      const gapS = isOpening ? (limits.openingGapS ?? limits.gapS) : limits.gapS;
      const hz = isOpening ? (limits.openingHz ?? limits.hz) : limits.hz;
      if (tone.startS - before.endS > gapS) break;
      const carrierHz = isOpening ? before.carrierHz : medianOf(series.map((one) => one.carrierHz));
      if (Math.abs(tone.carrierHz - carrierHz) > hz || tone.startS < before.endS) continue;
    }
    if (limits.fits(tone, series.length)) series.push(tone);
    else if (before === undefined) break;
  }
  return series;
}
