import { type CallKindName, callKinds } from './call-kinds/registry.ts';
import type { Tone } from './find-calls.ts';

/** One call: a single tone or, for tooting and quacking, a series of them. */
export interface Call {
  readonly kind: CallKindName;
  readonly startS: number;
  readonly endS: number;
  readonly tones: readonly Tone[];
}

const IN_TURN = [...callKinds].sort((a, b) => a.turn - b.turn);

/** No series has more tones than this, those of other bees passed over included. */
const MOST_TONES = 80;

/** Gathers tones, in order of start, into calls and names them. */
export function nameCalls(tones: readonly Tone[]): Call[] {
  const calls: Call[] = [];
  const taken = new Set<Tone>();
  for (const [index, first] of tones.entries()) {
    if (taken.has(first)) continue;
    const near = tones.slice(index, index + MOST_TONES).filter((tone) => !taken.has(tone));
    for (const { kind, take } of IN_TURN) {
      const members = take(near);
      if (members.length === 0) continue;
      for (const tone of members) taken.add(tone);
      const endS = Math.max(...members.map((tone) => tone.endS));
      calls.push({ kind, startS: members[0]!.startS, endS, tones: members });
      break;
    }
  }
  return calls;
}
