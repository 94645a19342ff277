import type { Tone } from './find-calls.ts';

/** What a call may be called. `other` is a tone of a bee that is none of the known calls. */
export type CallKindName = 'begging' | 'piping' | 'tooting' | 'quacking' | 'other';

/** One call: a single tone or, for tooting and quacking, a series of them. */
export interface Call {
  readonly kind: CallKindName;
  readonly startS: number;
  readonly endS: number;
  readonly tones: readonly Tone[];
}

/** How one kind of call is told from a row of tones. One entry each in `KINDS`; the first that fits wins. */
interface KindRule {
  readonly kind: CallKindName;
  /** The tones that make one call of this kind, the first of `tones` among them; none where it makes none. */
  readonly take: (tones: readonly Tone[]) => readonly Tone[];
}

const durationS = (tone: Tone) => tone.endS - tone.startS;
const between = (value: number, low: number, high: number) => value >= low && value <= high;

/**
 * The tones of a series that begins with the first: they keep its carrier within `hz`, follow each other within
 * `gapS`, and all fit. Another bee may sound at another carrier meanwhile: her tones are passed over.
 */
function seriesOf(
  tones: readonly Tone[],
  limits: { gapS: number; hz: number; fits: (tone: Tone, position: number) => boolean },
): Tone[] {
  const series: Tone[] = [];
  for (const tone of tones) {
    const before = series.at(-1);
    if (before !== undefined) {
      if (tone.startS - before.endS > limits.gapS) break;
      if (Math.abs(tone.carrierHz - before.carrierHz) > limits.hz || tone.startS < before.endS) continue;
    }
    if (!limits.fits(tone, series.length)) break;
    series.push(tone);
  }
  return series;
}

/**
 * Queen tooting: one or two tones of about 1 s, then a series of about 0.25 s, 400 to over 500 Hz; quacking: a
 * series of tones under 0.2 s at about 350 Hz (Michelsen et al. 1986, J Comp Physiol A 158:605; Kirchner 1993).
 * Worker piping: about 1 s, 330 to 430 Hz (Pratt et al. 1996, Apidologie 27:13). Begging: about 320 Hz
 * (Michelsen, Kirchner & Lindauer 1986, Behav Ecol Sociobiol 18:207), 60 to 200 ms. Margins are our own.
 */
const KINDS: readonly KindRule[] = [
  {
    kind: 'tooting',
    take: (tones) => {
      const first = tones[0]!;
      if (!between(durationS(first), 0.45, 1.8) || !between(first.carrierHz, 370, 560)) return [];
      const series = seriesOf(tones, {
        gapS: 0.6,
        hz: 45,
        fits: (tone, position) =>
          position < 2 ? durationS(tone) < 1.8 : between(durationS(tone), 0.06, 0.5),
      });
      return series.length >= 4 ? series : [];
    },
  },
  {
    kind: 'quacking',
    take: (tones) => {
      const series = seriesOf(tones, {
        gapS: 0.2,
        hz: 45,
        fits: (tone) => between(durationS(tone), 0.05, 0.23) && between(tone.carrierHz, 300, 420),
      });
      return series.length >= 3 ? series : [];
    },
  },
  { kind: 'piping', take: oneTone(0.35, 1.8, 315, 450) },
  { kind: 'begging', take: oneTone(0.045, 0.24, 285, 430) },
  { kind: 'other', take: (tones) => tones.slice(0, 1) },
];

/** A call of a single tone of such a duration, s, and carrier, Hz. */
function oneTone(shortestS: number, longestS: number, lowHz: number, highHz: number): KindRule['take'] {
  return (tones) => {
    const tone = tones[0]!;
    const fits = between(durationS(tone), shortestS, longestS) && between(tone.carrierHz, lowHz, highHz);
    return fits ? [tone] : [];
  };
}

/** No series has more tones than this, those of other bees passed over included. */
const MOST_TONES = 80;

/** Gathers tones, in order of start, into calls and names them. */
export function nameCalls(tones: readonly Tone[]): Call[] {
  const calls: Call[] = [];
  const taken = new Set<Tone>();
  for (const [index, first] of tones.entries()) {
    if (taken.has(first)) continue;
    const near = tones.slice(index, index + MOST_TONES).filter((tone) => !taken.has(tone));
    for (const { kind, take } of KINDS) {
      const members = take(near);
      if (members.length === 0) continue;
      for (const tone of members) taken.add(tone);
      const endS = Math.max(...members.map((tone) => tone.endS));
      calls.push({ kind, startS: members[0]!.startS, endS, tones: members });
      break;
    }
  }
  return calls;
}
