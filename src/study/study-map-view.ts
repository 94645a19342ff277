import { radians } from '../bearing/angles.ts';
import { distanceAndBearing } from '../bearing/geodesy.ts';
import type { Site } from '../bearing/sun.ts';
import type { MapWeight } from './map-weights.ts';
import type { ForagingMap } from './maps.ts';
import type { FeederPlace } from './places.ts';
import type { DanceFinding, StudyFindings } from './study-findings.ts';
import { type OpenStudy, siteOf } from './study-folder.ts';
import { studyMap } from './study-map.ts';
import type { Dance } from './study-schemas.ts';

/** Which dances a map is of; all where nothing is named. */
export interface MapFilter {
  /** Day by the recording's clock, as 2031-06-14. */
  readonly day?: string | undefined;
  readonly beeId?: string | undefined;
  /** Where it is named, its dances are shown whatever treatment the curve is of. */
  readonly treatment?: string | undefined;
}

const decimetres = (metres: number): number => Math.round(metres * 10) / 10 + 0;
const square = (areaM2: number): number => Math.round(areaM2) / 1e4;

/**
 * The map of a study's dances as the review page draws it: all in metres east and north of the hive.
 *
 * @param filter dances to places that are no feeder which are shown; what may be chosen is listed for all of them
 */
export function studyMapView(
  study: OpenStudy,
  findings: StudyFindings,
  filter: MapFilter,
  weight: MapWeight,
) {
  const site = siteOf(study.settings);
  const wanted = findings.dances.filter(({ dance }) => dance.feederId === null);
  const dances = findings.dances.filter(({ dance }) => holds(filter, dance));
  const chosen = dances.length === findings.dances.length ? findings : { ...findings, dances };
  const named = filter.treatment !== undefined;
  const { map, why, leftOut } = studyMap(study, chosen, { weight, cellM: null }, named);
  const byId = new Map(findings.dances.map((one) => [one.dance.id, one]));
  return {
    hive: site === null ? null : { latitude: site.latitudeDeg, longitude: site.longitudeDeg },
    why,
    weight,
    total: map?.total ?? 0,
    calibration: findings.calibration?.saved.name ?? null,
    regions: (map?.regions ?? []).map(({ level, areaM2, polygons }) => ({
      level,
      areaHa: square(areaM2),
      polygons: polygons.map((rings) =>
        rings.map((ring) => ring.map(([x, y]): [number, number] => [decimetres(x), decimetres(y)])),
      ),
    })),
    feeders: findings.feeders.flatMap((feeder) => feederSpot(site, feeder)),
    dances: map === null ? [] : map.places.flatMap((place) => danceSpot(place, byId.get(place.dance_id)!)),
    leftOut: [...leftOut],
    choices: {
      days: valuesOf(wanted, dayOf),
      beeIds: valuesOf(wanted, ({ beeId }) => beeId),
      treatments: valuesOf(wanted, ({ treatment }) => treatment),
    },
  };
}

const dayOf = ({ startTime }: Dance): string | null => startTime?.slice(0, 10) ?? null;

function holds({ day, beeId, treatment }: MapFilter, dance: Dance): boolean {
  return (
    (day === undefined || dayOf(dance) === day) &&
    (beeId === undefined || dance.beeId === beeId) &&
    (treatment === undefined || dance.treatment === treatment)
  );
}

function valuesOf(findings: readonly DanceFinding[], pick: (dance: Dance) => string | null): string[] {
  return [...new Set(findings.flatMap(({ dance }) => pick(dance) ?? []))].sort();
}

function spot(bearingDeg: number, distanceM: number) {
  const turn = radians(bearingDeg);
  return { eastM: decimetres(distanceM * Math.sin(turn)), northM: decimetres(distanceM * Math.cos(turn)) };
}

/** A feeder of which only the distance is known has no place on a map. */
function feederSpot(site: Site | null, feeder: FeederPlace) {
  const { feederId, distanceM, bearingDeg, latitudeDeg, longitudeDeg } = feeder;
  if (bearingDeg !== null) return [{ feederId, distanceM, ...spot(bearingDeg, distanceM) }];
  if (site === null || latitudeDeg === null || longitudeDeg === null) return [];
  const way = distanceAndBearing(site, { latitudeDeg, longitudeDeg });
  return [{ feederId, distanceM, ...spot(way.bearingDeg, way.distanceM) }];
}

function danceSpot(place: ForagingMap['places'][number], { dance }: DanceFinding) {
  const { distance_m: distanceM, bearing_deg: bearingDeg } = place;
  if (distanceM === null || bearingDeg === null) return [];
  return [
    {
      danceId: dance.id,
      beeId: dance.beeId,
      treatment: dance.treatment,
      startTime: dance.startTime,
      distanceM,
      distanceLowM: place.distance_low_m,
      distanceHighM: place.distance_high_m,
      bearingDeg,
      area95Ha: place.area_95_ha,
      note: place.note,
      ...spot(bearingDeg, distanceM),
    },
  ];
}
