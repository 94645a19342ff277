import { within360 } from '../bearing/angles.ts';
import { directionOfInterval } from '../bearing/direction.ts';
import { type ForagingMap, foragingMap, type MapSettings } from './maps.ts';
import type { MapDance } from './maps-input.ts';
import { isOtherTreatment, unmappedReason } from './other-treatment.ts';
import type { DanceFinding, StudyFindings } from './study-findings.ts';
import type { OpenStudy } from './study-folder.ts';
import { siteOf } from './study-folder.ts';

/** A map of a study's dances, or why there is none. */
export interface StudyMap {
  readonly map: ForagingMap | null;
  readonly why: string | null;
  /** Dances without a feeder that are not mapped, with the reason. */
  readonly leftOut: readonly { readonly danceId: string; readonly reason: string }[];
}

/** Dances of a study to places that are no feeder, as a map takes them, and those that are not mapped. */
function studyMapDances(
  { dances }: StudyFindings,
  allTreatments: boolean,
): Pick<StudyMap, 'leftOut'> & { dances: MapDance[] } {
  const wanted = dances.filter(({ dance }) => dance.feederId === null && dance.feederConflict.length === 0);
  const why = (finding: DanceFinding) =>
    whyNot(finding) ?? (allTreatments ? null : ofOtherTreatment(finding));
  return {
    dances: wanted.filter((finding) => why(finding) === null).map(mapDance),
    leftOut: wanted.flatMap((finding) => {
      const reason = why(finding);
      return reason === null ? [] : [{ danceId: finding.dance.id, reason }];
    }),
  };
}

/**
 * Maps the dances of a study to places that are no feeder, by the posterior of their distance and the interval of
 * their bearing.
 *
 * @param allTreatments also dances of another treatment than the curve's, whose distances may be wrong for it
 */
export function studyMap(
  { settings }: OpenStudy,
  findings: StudyFindings,
  mapSettings: MapSettings = { weight: 'dances', cellM: null },
  allTreatments = false,
): StudyMap {
  const site = siteOf(settings);
  const { dances, leftOut } = studyMapDances(findings, allTreatments);
  const none = (why: string): StudyMap => ({ map: null, why, leftOut });
  if (site === null) return none('study.json has no coordinates of the hive');
  if (findings.calibration === null) return none('nothing is calibrated yet');
  if (dances.length === 0) {
    const first = leftOut[0];
    const such = first === undefined ? '' : ` (${first.danceId}: ${first.reason})`;
    return none(`no dance without a feeder has both a distance and a bearing with an interval${such}`);
  }
  return { map: foragingMap(site, dances, findings.feeders, mapSettings), why: null, leftOut };
}

function whyNot({ dance, estimated, bearing, flags }: DanceFinding): string | null {
  if (dance.combAngleDeg === null) return 'no comb angle';
  if (bearing?.bearing_deg == null) return flags.join('; ') || 'no bearing';
  if (bearing.bearing_low_deg === null) return flags.join('; ') || 'no interval of the bearing';
  if (estimated?.estimate?.posterior === undefined || estimated.row.distance_m === null) {
    return estimated?.row.note ?? 'no distance';
  }
  return null;
}

function ofOtherTreatment({ estimated }: DanceFinding): string | null {
  const { row } = estimated!;
  return isOtherTreatment(row) ? unmappedReason(row) : null;
}

function mapDance({ estimated, bearing }: DanceFinding): MapDance {
  const { row, estimate } = estimated!;
  const { bearing_deg, bearing_low_deg, bearing_high_deg, level, direction_dof, flags } = bearing!;
  const [mean, low, high] = [bearing_deg!, bearing_low_deg!, bearing_high_deg!];
  const halfWidth = (within360(mean - low) + within360(high - mean)) / 2;
  const posterior = estimate!.posterior!;
  return {
    estimate: row,
    distance: { distanceM: posterior.distancesM, density: posterior.density },
    bearing: {
      dance_id: row.dance_id,
      bearing_deg,
      bearing_low_deg,
      bearing_high_deg,
      level,
      direction_dof,
      flags,
    },
    direction: directionOfInterval(mean, halfWidth, level!, direction_dof ?? Number.POSITIVE_INFINITY),
  };
}
