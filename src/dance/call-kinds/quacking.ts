import { greatest } from 'd3-array';
import { medianOf } from '../../signal/quantile.ts';
import type { Tone } from '../find-calls.ts';
import { between, type CallKindRule, durationS } from './call-kind.ts';

/** How far carriers in one series lie from its first tone's, Hz. */
const REACH_HZ = 15;
/** From one tone to the next, s: five to eight a second, with margin. */
const SHORTEST_BEAT_S = 0.1;
const LONGEST_BEAT_S = 0.27;
/** So many tones between two may go unheard; and how far from the beat a tone may begin, in beats. */
const MOST_UNHEARD = 2;
const OFF_BEAT = 0.25;

/**
 * Queen quacking: a series of tones under 0.2 s at about 350 Hz, five to eight a second (Michelsen et al. 1986,
 * J Comp Physiol A 158:605; Kirchner 1993). Margins are our own.
 */
export const quacking = {
  kind: 'quacking',
  turn: 2,
  take: (tones) => {
    const first = tones[0]!;
    const like = tones.filter(
      (tone) =>
        between(durationS(tone), 0.04, 0.23) &&
        between(tone.carrierHz, 300, 420) &&
        Math.abs(tone.carrierHz - first.carrierHz) <= REACH_HZ,
    );
    if (like[0] !== first) return [];
    const rows = like
      .filter(({ startS }) => between(startS - first.startS, SHORTEST_BEAT_S, LONGEST_BEAT_S))
      .map((second) => rowOnBeat([first, second], like));
    const longest = greatest(rows, (row) => row.length);
    if (longest === undefined || longest.length < 4) return [];
    // What sounds between at the same carrier is part of the same: an echo, or a tone heard in two.
    return like.filter(({ endS }) => endS <= longest.at(-1)!.endS);
  },
} as const satisfies CallKindRule;

/** The row that two tones begin: each next tone comes one beat, or a few, after the one before. */
function rowOnBeat(begun: readonly [Tone, Tone], tones: readonly Tone[]): Tone[] {
  const row: Tone[] = [...begun];
  const beats = [begun[1].startS - begun[0].startS];
  for (const tone of tones) {
    const last = row.at(-1)!;
    if (tone.startS < last.endS) continue;
    const beatS = medianOf(beats);
    const sinceBeats = (tone.startS - last.startS) / beatS;
    const count = Math.round(sinceBeats);
    if (count > 1 + MOST_UNHEARD) break;
    if (count < 1 || Math.abs(sinceBeats - count) > OFF_BEAT) continue;
    row.push(tone);
    beats.push((tone.startS - last.startS) / count);
  }
  return row;
}
