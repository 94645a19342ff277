import type { Observations, ObservedDance } from './observations.ts';
import type { Dance } from './study-schemas.ts';
import type { StudyView } from './study-view.ts';
import type { ObservationRow } from './tables.ts';
import { isWatched } from './watched.ts';
import { listWholeDances, observedDance, wholeDance } from './whole-dances.ts';

/** A dance that cannot serve, and why. */
export interface DanceLeftOut {
  readonly danceId: string;
  readonly reason: string;
}

export interface PickedDances {
  readonly dances: ReadonlyMap<string, Dance>;
  readonly observed: readonly ObservedDance[];
  readonly leftOut: readonly DanceLeftOut[];
}

/**
 * Dances to calibrate on, as calibrating takes them: their runs that are not rejected, with the distance of the
 * feeder that each is tied to. Those that cannot serve are named with the reason. A dance that goes on across
 * recordings is taken whole and once, under the id of its first part, whichever of its parts are asked for.
 */
export function dancesAtFeeders(view: StudyView, danceIds: readonly string[]): PickedDances {
  const dances = new Map<string, Dance>();
  const observed: ObservedDance[] = [];
  const leftOut: DanceLeftOut[] = [];
  const seenIds = new Set<string>();
  for (const asked of new Set(danceIds)) {
    const whole = wholeDance(view, asked);
    const danceId = whole?.dance.id ?? asked;
    if (seenIds.has(danceId)) continue;
    seenIds.add(danceId);
    const seen = whole && observedDance(view, whole);
    const reason = whole === null || seen === null ? 'no run left' : whyNoDistance(whole.dance);
    if (reason !== null) leftOut.push({ danceId, reason });
    else {
      dances.set(danceId, whole!.dance);
      observed.push(seen!);
    }
  }
  return { dances, observed, leftOut };
}

function whyNoDistance(dance: Dance): string | null {
  if (dance.feederConflict.length > 0) return `several feeders were open: ${dance.feederConflict.join(', ')}`;
  if (dance.feederId === null) return 'no feeder';
  return dance.feederDistanceM === null ? `distance of feeder ${dance.feederId} not known` : null;
}

/**
 * Dances of unknown distance: those without a feeder, whether the openings or a reviewer says so. One danced while
 * several feeders were open is a question for the reviewer first, and is named among those left out.
 */
export function dancesWithoutFeeder(view: StudyView): Omit<PickedDances, 'dances'> {
  const without = listWholeDances(view).filter(({ dance }) => dance.feederId === null);
  const open = without.filter(({ dance }) => dance.feederConflict.length > 0);
  return {
    observed: without
      .filter(({ dance }) => dance.feederConflict.length === 0)
      .flatMap((dance) => observedDance(view, dance) ?? []),
    leftOut: open.map(({ dance }) => ({ danceId: dance.id, reason: whyNoDistance(dance)! })),
  };
}

/** Observed dances as a table of observations. @param file what errors name them by */
export function observationsTable(file: string, dances: readonly ObservedDance[]): Observations {
  const rows = dances.flatMap((dance) =>
    dance.durationsS.map(
      (durationS, k): ObservationRow => ({
        bee_id: dance.beeId,
        dance_id: dance.danceId,
        distance_m: dance.distanceM,
        duration_s: durationS,
        circuits_per_15s: dance.circuitsPer15s[k] ?? null,
        treatment: dance.treatment,
      }),
    ),
  );
  return { file, rows, dances };
}

/**
 * The dances of a study that are tied to a feeder of known distance, to calibrate on.
 *
 * @param unwatched also those that only the openings tie to a feeder and whose dancer nobody knows
 * @returns the dances as a table, those that cannot serve, and how many were passed over as unwatched
 */
export function observationsOfStudy(view: StudyView, unwatched: boolean) {
  const tied = listWholeDances(view)
    .map(({ dance }) => dance)
    .filter(({ feederId, feederConflict }) => feederId !== null || feederConflict.length > 0);
  const taken = tied.filter((dance) => unwatched || isWatched(dance));
  const { observed, leftOut } = dancesAtFeeders(
    view,
    taken.map(({ id }) => id),
  );
  return {
    observations: observationsTable(view.study.folder, observed),
    leftOut,
    passedOver: tied.length - taken.length,
  };
}
