import { between, type CallKindRule, durationS, seriesOf } from './call-kind.ts';

/**
 * Queen tooting: one or two tones of about 1 s, then a series of about 0.25 s, 400 to over 500 Hz (Michelsen et al.
 * 1986, J Comp Physiol A 158:605; Kirchner 1993). Margins are our own.
 */
export const tooting = {
  kind: 'tooting',
  turn: 1,
  take: (tones) => {
    const first = tones[0]!;
    if (!between(durationS(first), 0.45, 1.8) || !between(first.carrierHz, 370, 560)) return [];
    const series = seriesOf(tones, {
      gapS: 0.6,
      hz: 45,
      fits: (tone, position) => (position < 2 ? durationS(tone) < 1.8 : between(durationS(tone), 0.06, 0.5)),
    });
    return series.length >= 4 ? series : [];
  },
} as const satisfies CallKindRule;
