import { type CallKindRule, oneTone } from './call-kind.ts';

/**
 * Begging call of a follower: about 320 Hz (Michelsen, Kirchner & Lindauer 1986, Behav Ecol Sociobiol 18:207), 60 to
 * 200 ms, of which up to 25 ms are lost on the ends of a faint one. Margins are our own.
 */
export const begging = {
  kind: 'begging',
  turn: 4,
  take: oneTone(0.034, 0.24, 285, 430),
} as const satisfies CallKindRule;
