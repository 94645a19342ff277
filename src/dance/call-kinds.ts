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
  /** How many tones from `index` on make one call of this kind, 0 where none does. */
  readonly take: (tones: readonly Tone[], index: number) => number;
}

const durationS = (tone: Tone) => tone.endS - tone.startS;
const between = (value: number, low: number, high: number) => value >= low && value <= high;

/**
 * Length of the series of tones from `index` on that keep the carrier within `hz` and follow each other within
 * `gapS`, all of which fit. Tones at other carriers in between are passed over by the caller's grouping.
 */
function seriesLength(
  tones: readonly Tone[],
  index: number,
  limits: { gapS: number; hz: number; fits: (tone: Tone, position: number) => boolean },
): number {
  let length = 0;
  for (let k = index; k < tones.length; k++) {
    const tone = tones[k]!;
    if (length > 0) {
      const before = tones[k - 1]!;
      if (tone.startS - before.endS > limits.gapS) break;
      if (Math.abs(tone.carrierHz - before.carrierHz) > limits.hz) break;
    }
    if (!limits.fits(tone, length)) break;
    length++;
  }
  return length;
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
    take: (tones, index) => {
      const first = tones[index]!;
      if (!between(durationS(first), 0.45, 1.8) || !between(first.carrierHz, 370, 560)) return 0;
      const length = seriesLength(tones, index, {
        gapS: 0.6,
        hz: 45,
        fits: (tone, position) =>
          position < 2 ? durationS(tone) < 1.8 : between(durationS(tone), 0.06, 0.5),
      });
      return length >= 4 ? length : 0;
    },
  },
  {
    kind: 'quacking',
    take: (tones, index) => {
      const length = seriesLength(tones, index, {
        gapS: 0.2,
        hz: 45,
        fits: (tone) => between(durationS(tone), 0.05, 0.23) && between(tone.carrierHz, 300, 420),
      });
      return length >= 3 ? length : 0;
    },
  },
  {
    kind: 'piping',
    take: (tones, index) =>
      between(durationS(tones[index]!), 0.35, 1.8) && between(tones[index]!.carrierHz, 315, 450) ? 1 : 0,
  },
  {
    kind: 'begging',
    take: (tones, index) =>
      between(durationS(tones[index]!), 0.045, 0.24) && between(tones[index]!.carrierHz, 285, 430) ? 1 : 0,
  },
  { kind: 'other', take: () => 1 },
];

/** Gathers tones, in order of start, into calls and names them. */
export function nameCalls(tones: readonly Tone[]): Call[] {
  const calls: Call[] = [];
  for (let index = 0; index < tones.length; ) {
    for (const { kind, take } of KINDS) {
      const count = take(tones, index);
      if (count === 0) continue;
      const members = tones.slice(index, index + count);
      const endS = Math.max(...members.map((tone) => tone.endS));
      calls.push({ kind, startS: members[0]!.startS, endS, tones: members });
      index += count;
      break;
    }
  }
  return calls;
}
