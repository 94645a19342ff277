import { medianOf } from '../../signal/quantile.ts';
import type { Tone } from '../find-calls.ts';
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
      gapS: 0.38,
      hz: 30,
      fits: (tone) => between(durationS(tone), 0.04, 0.23) && between(tone.carrierHz, 300, 420),
    });
    return isQuackSeries(series) ? series : [];
  },
} as const satisfies CallKindRule;

/** Whether tones follow each other as those of quacking do, five to eight a second; one between two may go unheard. */
function isQuackSeries(series: readonly Tone[]): boolean {
  if (series.length < 3) return false;
  const spacings = series.slice(1).map((tone, k) => tone.startS - series[k]!.startS);
  const nearest = spacings.filter((spacing) => spacing < 0.27);
  if (nearest.length === 0) return false;
  const beat = medianOf(nearest);
  return (
    between(beat, 0.1, 0.27) &&
    spacings.every((spacing) => Math.abs(spacing / beat - Math.round(spacing / beat)) < 0.3)
  );
}
