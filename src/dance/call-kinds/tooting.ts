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
      gapS: 0.6,
      openingGapS: 2.5,
      hz: 45,
      fits: (tone, position) => (position < 2 ? durationS(tone) < 1.8 : between(durationS(tone), 0.06, 0.5)),
    });
    const opened = durationS(first) >= 0.3 && series.length >= 4;
    return opened || isTootSeries(series) ? series : [];
  },
} as const satisfies CallKindRule;

/** Whether tones follow each other as those of tooting do: about 0.25 s long, two or three a second. */
function isTootSeries(series: readonly Tone[]): boolean {
  const spacings = series.slice(1).map((tone, k) => tone.startS - series[k]!.startS);
  return (
    series.length >= 5 &&
    between(medianOf(spacings), 0.3, 0.55) &&
    between(medianOf(series.map(durationS)), 0.14, 0.35)
  );
}
