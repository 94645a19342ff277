import { type CallKindRule, oneTone } from './call-kind.ts';

/** Worker piping: about 1 s, 330 to 430 Hz (Pratt et al. 1996, Apidologie 27:13). Margins are our own. */
export const piping = {
  kind: 'piping',
  turn: 3,
  take: oneTone(0.35, 1.8, 315, 450),
} as const satisfies CallKindRule;
