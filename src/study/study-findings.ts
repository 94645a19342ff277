import { join } from 'node:path';
import { goalOf } from '../bearing/geodesy.ts';
import { instantOf } from '../bearing/local-time.ts';
import { type SunPosition, sunPosition } from '../bearing/sun.ts';
import { type Bearings, bearingsOf } from './bearings.ts';
import type { AngledDance } from './bearings-observations.ts';
import type { BearingRow } from './bearings-tables.ts';
import { type CalibrationRecord, checkedCalibration } from './calibration-record.ts';
import { clockTimeAfter } from './clock.ts';
import { type Estimated, estimates } from './estimates.ts';
import type { ObservedDance } from './observations.ts';
import type { FeederPlace } from './places.ts';
import { calibrationNamed, type SavedCalibration } from './store/calibrations.ts';
import { siteOf } from './study-folder.ts';
import type { Dance, Feeder } from './study-schemas.ts';
import type { StudyView } from './study-view.ts';
import { listWholeDances, observedDance } from './whole-dances.ts';

/** A dance with all that is reckoned of it. */
export interface DanceFinding {
  /** From its first run to its last, though it may go on in a later recording. */
  readonly dance: Dance;
  /** What of it lies in each recording, in order. */
  readonly parts: readonly Dance[];
  /** Milliseconds since 1970 of the dance's middle; null where clock or time zone are not known. */
  readonly instant: number | null;
  readonly sun: SunPosition | null;
  /** null without a calibration. */
  readonly estimated: Estimated | null;
  /** null without the hive's coordinates or the dance's time. */
  readonly bearing: BearingRow | null;
  /** Where the median distance and mean bearing lead. */
  readonly place: { readonly latitudeDeg: number; readonly longitudeDeg: number } | null;
  /** Why there is no bearing, and what to beware of. */
  readonly flags: readonly string[];
}

/** What a study's dances tell, by its newest calibration and the sun. */
export interface StudyFindings {
  readonly dances: readonly DanceFinding[];
  readonly calibration: { readonly saved: SavedCalibration; readonly record: CalibrationRecord } | null;
  readonly bearings: Bearings | null;
  readonly feeders: readonly FeederPlace[];
  readonly level: number;
}

// The sun's centre at the end of civil twilight, as for comb angles read from a table.
const nightDeg = -6;

/** Estimates dances by a calibration; those it leaves out have no distance among the findings. */
export type TellDistances = (
  record: CalibrationRecord,
  dances: readonly ObservedDance[],
  level: number,
) => readonly Estimated[];

/**
 * Distances, bearings and places of all dances that have a run left. What the study lacks is null.
 *
 * @param tell for who keeps estimates from one time to the next, or needs only some
 * @throws InputError when the newest calibration was saved by a combtone of another format
 */
export function studyFindings(view: StudyView, level = 0.95, tell: TellDistances = estimates): StudyFindings {
  const { study } = view;
  const { settings } = study;
  const site = siteOf(settings);
  const calibration = newestCalibration(view);
  const whole = listWholeDances(view);
  const dances = whole.map(({ dance }) => dance);
  const feeders = view.places.feeders.flatMap((feeder) => feederPlace(view, feeder));
  const timed = dances.map((dance) => timeOf(dance, settings.hive.timeZone));
  const suns = timed.map(({ instant }) =>
    site === null || instant === null ? null : sunPosition(site, instant),
  );
  const angled = dances.flatMap((dance, k): AngledDance[] => {
    const sun = suns[k]!;
    if (sun === null || sun.elevationDeg < nightDeg) return [];
    return [angledDance(dance, sun)];
  });
  const bearings =
    site === null || angled.length === 0
      ? null
      : bearingsOf(angled, feeders, {
          posture: settings.comb.orientation,
          runs: 'all',
          level,
          runScatter: null,
        });
  const bearingOf = new Map(bearings?.rows.map((row) => [row.dance_id, row]));
  const told = new Map<string, Estimated>();
  if (calibration !== null) {
    const known = whole.flatMap((dance) => observedDance(view, dance) ?? []);
    for (const one of tell(calibration.record, known, level)) told.set(one.row.dance_id, one);
  }
  return {
    dances: dances.map((dance, k): DanceFinding => {
      const bearing = bearingOf.get(dance.id) ?? null;
      const estimated = told.get(dance.id) ?? null;
      const distanceM = estimated?.row.distance_m ?? null;
      const bearingDeg = bearing?.bearing_deg ?? null;
      return {
        dance,
        parts: whole[k]!.parts,
        instant: timed[k]!.instant,
        sun: suns[k]!,
        estimated,
        bearing,
        place:
          site === null || distanceM === null || bearingDeg === null
            ? null
            : goalOf(site, bearingDeg, distanceM),
        flags: flagsOf(dance, suns[k]!, timed[k]!.why, site === null, bearing),
      };
    }),
    calibration,
    bearings,
    feeders,
    level,
  };
}

function newestCalibration({ study }: StudyView): StudyFindings['calibration'] {
  const found = calibrationNamed(study.store);
  if (found === null) return null;
  const place = `${join(study.folder, 'study.sqlite')}: calibration ${found.saved.name}`;
  return { saved: found.saved, record: checkedCalibration(place, found.record) };
}

/** The middle of a dance by the clock. */
function timeOf(dance: Dance, timeZone: string | null): { instant: number | null; why: string | null } {
  const middle = clockTimeAfter(dance.startTime, (dance.endS - dance.startS) / 2);
  if (middle === null) return { instant: null, why: 'start time of the recording not known' };
  const reading = instantOf(middle, timeZone);
  return reading.ok ? { instant: reading.instant, why: reading.note } : { instant: null, why: reading.found };
}

/** One comb angle stands for the whole dance: the store keeps one. */
function angledDance(dance: Dance, sun: SunPosition): AngledDance {
  return {
    danceId: dance.id,
    beeId: dance.beeId,
    feederId: dance.feederId,
    treatment: dance.treatment,
    startTime: dance.startTime!,
    runs: [
      {
        combAngleDeg: dance.combAngleDeg,
        sunAzimuthDeg: sun.azimuthDeg,
        sunElevationDeg: sun.elevationDeg,
      },
    ],
    flags: [],
  };
}

function flagsOf(
  dance: Dance,
  sun: SunPosition | null,
  why: string | null,
  unplaced: boolean,
  bearing: BearingRow | null,
): string[] {
  if (dance.combAngleDeg === null) return ['no comb angle'];
  const flags = [
    ...(unplaced ? ['hive without coordinates'] : []),
    ...(why === null ? [] : [why]),
    ...(bearing?.flags == null ? [] : [bearing.flags]),
  ];
  if (sun !== null && sun.elevationDeg < nightDeg) {
    flags.push(
      `sun ${(-sun.elevationDeg).toFixed(1)}° below the horizon: the clock, the time zone or the coordinates are wrong`,
    );
  }
  return flags;
}

/** A feeder of the study as bearings and maps take it. */
function feederPlace({ study }: StudyView, feeder: Feeder): FeederPlace[] {
  const { feederId, distanceM, bearingDeg, latitude, longitude } = feeder;
  if (distanceM === null) return [];
  const site = siteOf(study.settings);
  const point =
    latitude !== null && longitude !== null
      ? { latitudeDeg: latitude, longitudeDeg: longitude }
      : site !== null && bearingDeg !== null
        ? goalOf(site, bearingDeg, distanceM)
        : null;
  return [
    {
      feederId,
      distanceM,
      bearingDeg,
      latitudeDeg: point?.latitudeDeg ?? null,
      longitudeDeg: point?.longitudeDeg ?? null,
    },
  ];
}
