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

/**
 * The tones of a series that begins with the first: each stays within `hz` of the carrier of the one before and
 * follows it within `gapS` (`openingGapS` after a first or second of 0.3 s or more), and all fit. Another bee may
 * sound at another carrier meanwhile: her tones are passed over.
 */
export function seriesOf(
  tones: readonly Tone[],
  limits: { gapS: number; openingGapS?: number; hz: number; fits: (tone: Tone, position: number) => boolean },
): Tone[] {
  const series: Tone[] = [];
  for (const tone of tones) {
    const before = series.at(-1);
    if (before !== undefined) {
      const gapS =
        series.length <= 2 && durationS(before) >= 0.3 ? (limits.openingGapS ?? limits.gapS) : limits.gapS;
      if (tone.startS - before.endS > gapS) break;
      if (Math.abs(tone.carrierHz - before.carrierHz) > limits.hz || tone.startS < before.endS) continue;
    }
    if (!limits.fits(tone, series.length)) break;
    series.push(tone);
  }
  return series;
}
