import { between, type CallKindRule, durationS, seriesOf } from './call-kind.ts';

/**
 * Queen quacking: a series of tones under 0.2 s at about 350 Hz (Michelsen et al. 1986, J Comp Physiol A 158:605;
 * Kirchner 1993). Margins are our own.
 */
export const quacking = {
  kind: 'quacking',
  turn: 2,
  take: (tones) => {
    const series = seriesOf(tones, {
      gapS: 0.2,
      hz: 45,
      fits: (tone) => between(durationS(tone), 0.05, 0.23) && between(tone.carrierHz, 300, 420),
    });
    return series.length >= 3 ? series : [];
  },
} as const satisfies CallKindRule;
