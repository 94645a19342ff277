import type { Sound } from '../../src/study/study-schemas.ts';

type InHand = Pick<Sound, 'kind' | 'status' | 'danceId'>;

/**
 * Whether a dance of their own can be made of sounds in hand: waggle runs alone, at least one of them not rejected, and
 * not all the runs of one dance, which is a dance already.
 *
 * @param runCount runs of a dance that are not rejected; undefined where the dance is not known
 */
export function canBeOwnDance(
  some: readonly InHand[],
  runCount: (danceId: string) => number | undefined,
): boolean {
  const counting = some.filter(({ status }) => status !== 'rejected');
  if (counting.length === 0 || some.some(({ kind }) => kind !== 'train')) return false;
  const [first, ...others] = new Set(counting.map(({ danceId }) => danceId));
  if (first === null || first === undefined || others.length > 0) return true;
  return counting.length < (runCount(first) ?? Number.POSITIVE_INFINITY);
}
