import type { CallKindRule } from './call-kind.ts';

/** A tone of a bee that is none of the known calls. */
export const other = {
  kind: 'other',
  turn: Number.POSITIVE_INFINITY,
  take: (tones) => tones.slice(0, 1),
} as const satisfies CallKindRule;
