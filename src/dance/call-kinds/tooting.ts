import { medianOf } from '../../signal/quantile.ts';
import type { Tone } from '../find-calls.ts';
import { between, type CallKindRule, durationS, seriesOf } from './call-kind.ts';

/**
 * Queen tooting: one or two tones of about 1 s, then a series of about 0.25 s, 400 to over 500 Hz (Michelsen et al.
 * 1986, J Comp Physiol A 158:605; Kirchner 1993). Margins are our own: the long tones rise out of the hum, so that
 * they are heard in part or not at all, and then the beat of the series tells.
 */
export const tooting = {
  kind: 'tooting',
  turn: 1,
  take: (tones) => {
    const first = tones[0]!;
    if (!between(first.carrierHz, 370, 560)) return [];
    const series = seriesOf(tones, {
      gapS: 1.4,
      openingGapS: 2.5,
      hz: 20,
      openingHz: 45,
      fits: (tone, position) => (position < 2 ? durationS(tone) < 1.8 : between(durationS(tone), 0.06, 0.5)),
    });
    const longCount = series.findIndex((tone) => durationS(tone) < LEAST_LONG_S);
    const short = longCount < 0 ? [] : series.slice(longCount);
    return short.length >= (longCount > 0 ? 3 : 5) && isTootRow(short) ? series : [];
  },
} as const satisfies CallKindRule;

/** The tones that open tooting are about 1 s long; hum takes off what rises out of it. */
const LEAST_LONG_S = 0.3;

/** Whether tones follow each other as the short ones of tooting do: about 0.25 s long, two or three a second. */
function isTootRow(tones: readonly Tone[]): boolean {
  const spacings = tones.slice(1).map((tone, k) => tone.startS - tones[k]!.startS);
  return between(medianOf(spacings), 0.3, 0.55) && between(medianOf(tones.map(durationS)), 0.14, 0.35);
}
