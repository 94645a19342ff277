import { begging } from './begging.ts';
import { other } from './other.ts';
import { piping } from './piping.ts';
import { quacking } from './quacking.ts';
import { tooting } from './tooting.ts';

/** Every kind of call, in the order in which tables and texts name them. */
export const callKinds = [begging, piping, tooting, quacking, other] as const;

/** What a call may be called. */
export type CallKindName = (typeof callKinds)[number]['kind'];

/** The names alone, in the same order. */
export const callKindNames: readonly CallKindName[] = callKinds.map(({ kind }) => kind);
