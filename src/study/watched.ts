import type { Dance } from './study-schemas.ts';

/**
 * Whether somebody has tied a dance to its feeder: by naming the feeder, or the bee that danced while it was open.
 * Of other sounds in an opening nobody knows whether the dancer came from there, or whether it was a dance at all.
 */
export function isWatched({ feederSource, beeId }: Pick<Dance, 'feederSource' | 'beeId'>): boolean {
  return feederSource === 'reviewer' || beeId !== null;
}
