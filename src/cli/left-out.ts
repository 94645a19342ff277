import { firstNamed } from '../study/first-named.ts';
import type { DanceLeftOut } from '../study/study-observations.ts';
import { warn } from '../study/warn.ts';

/**
 * Says on stderr which dances of a study were not taken, and why: one line for each reason, with the first three of
 * its dances.
 *
 * @param what became of them, such as `left out`
 * @param all names every dance
 */
export function tellLeftOut(leftOut: readonly DanceLeftOut[], all: boolean, what = 'left out'): void {
  const byReason = new Map<string, string[]>();
  for (const { danceId, reason } of leftOut) byReason.set(reason, [...(byReason.get(reason) ?? []), danceId]);
  for (const [reason, ids] of byReason) {
    warn(leftOutWords(reason, ids, all, what));
  }
}

function leftOutWords(reason: string, ids: readonly string[], all: boolean, what: string): string {
  if (ids.length === 1) return `dance ${ids[0]} ${what}: ${reason}`;
  const named = all ? ids.join(', ') : firstNamed(ids, '; --json names all');
  return `${ids.length} dances ${what}: ${reason} (${named})`;
}
