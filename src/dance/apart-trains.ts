import { keptRoom } from '../signal/kept-room.ts';
import { findGuidedTrains, type TrainCandidate, trainCandidate } from './find-trains.ts';
import type { Guide } from './guided-runs.ts';
import { GUIDE_REACH_S } from './guides.ts';
import { LEAST_APART_HZ, sharedS } from './rivals.ts';
import type { SegmentView } from './segment-view.ts';
import { viewWithout } from './without-trains.ts';

/** Another dancer further than this in carrier hides nothing. */
const FARTHEST_HZ = 110;
/** How far beyond a dance's known runs others are taken out, and beyond these a run is looked for, s. */
const DANCE_REACH_S = 3;
const RUN_REACH_S = 2.5;
/** Time that a run must share with one that was taken out; others were to be found before. */
const LEAST_SHARED_S = 0.05;

const restRoom = keptRoom(Float32Array);

/** Runs of a dance found after others were taken out, and the sound in which they were found, until the next search. */
export interface ApartTrains {
  readonly rest: SegmentView;
  readonly trains: readonly TrainCandidate[];
}

/**
 * Looks for a dance's runs under another dancer's: the other's are taken out of the sound, and where that leaves
 * enough of a pulse the guide's own are looked for in what is left.
 *
 * @param clear trains that are likely runs, no two of them one train
 */
export function findApart(
  view: SegmentView,
  guide: Guide,
  clear: readonly TrainCandidate[],
): ApartTrains | null {
  const fromS = guide.fromS + GUIDE_REACH_S - DANCE_REACH_S;
  const toS = guide.toS - GUIDE_REACH_S + DANCE_REACH_S;
  const others = clear.filter((train) => {
    const apartHz = Math.abs(train.carrierHz - guide.carrierHz);
    return train.endS > fromS && train.startS < toS && apartHz >= LEAST_APART_HZ && apartHz < FARTHEST_HZ;
  });
  if (others.length === 0) return null;
  const rest = viewWithout(view, others, restRoom);
  const trains = stretchesAround(others)
    .flatMap((stretch) =>
      findGuidedTrains(rest, {
        carrierHz: guide.carrierHz,
        beatS: guide.beatS,
        strength: guide.strength,
        fromS: Math.max(fromS, stretch.fromS),
        toS: Math.min(toS, stretch.toS),
      }),
    )
    .map((train) =>
      trainCandidate(train, {
        ...train,
        apartFrom: others.filter((other) => sharedS(train, other) > LEAST_SHARED_S),
      }),
    )
    .filter(({ apartFrom }) => apartFrom !== undefined && apartFrom.length > 0);
  return { rest, trains };
}

/** Stretches about trains, with what overlaps made one. */
function stretchesAround(trains: readonly TrainCandidate[]): { fromS: number; toS: number }[] {
  const stretches: { fromS: number; toS: number }[] = [];
  for (const { startS, endS } of [...trains].sort((a, b) => a.startS - b.startS)) {
    const last = stretches.at(-1);
    if (last !== undefined && startS - RUN_REACH_S < last.toS)
      last.toS = Math.max(last.toS, endS + RUN_REACH_S);
    else stretches.push({ fromS: startS - RUN_REACH_S, toS: endS + RUN_REACH_S });
  }
  return stretches;
}
