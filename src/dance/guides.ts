import { medianOf } from '../signal/quantile.ts';
import type { Alone } from './company.ts';
import type { TrainCandidate } from './find-trains.ts';
import { gatherDances } from './gather-dances.ts';
import type { Guide } from './guided-runs.ts';
import { withoutOverlaps } from './rivals.ts';

/** How far around a dance's known runs its other runs are looked for, s. */
export const GUIDE_REACH_S = 6;
/** Least probability, alone, of a run that guides, and least number of a dance's runs that do. */
const LEAST_GUIDING = 0.15;
const LEAST_GUIDES = 2;

/** What each dance's likely runs tell of where its others are: medians over these, and the time around them. */
export function guidesOf(known: readonly Alone[]): Guide[] {
  const likely = withoutOverlaps(
    known.filter((one) => one.alone >= LEAST_GUIDING),
    (one) => one.alone,
  )
    .map((one) => one.train)
    .sort((a, b) => a.startS - b.startS);
  const danceOf = gatherDances(likely);
  const dances = new Map<number, TrainCandidate[]>();
  likely.forEach((train, k) => {
    const members = dances.get(danceOf[k]!);
    if (members) members.push(train);
    else dances.set(danceOf[k]!, [train]);
  });
  return [...dances.values()]
    .filter((members) => members.length >= LEAST_GUIDES)
    .map((members) => ({
      carrierHz: medianOf(members.map((train) => train.carrierHz)),
      beatS: medianOf(members.map((train) => train.beatS)),
      strength: medianOf(members.map((train) => train.pulseRatio)),
      fromS: members[0]!.startS - GUIDE_REACH_S,
      toS: members.at(-1)!.endS + GUIDE_REACH_S,
    }));
}

/** Whether a guide would bring out what another has brought out already. */
export function isSameGuide(a: Guide, b: Guide): boolean {
  return (
    Math.abs(a.carrierHz - b.carrierHz) < 1 &&
    Math.abs(Math.log(a.beatS / b.beatS)) < 0.01 &&
    Math.abs(Math.log(a.strength / b.strength)) < 0.1 &&
    Math.abs(a.fromS - b.fromS) < 0.5 &&
    Math.abs(a.toS - b.toS) < 0.5
  );
}
