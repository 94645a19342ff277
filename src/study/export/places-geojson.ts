import { type Feature, type FeatureCollection, pointGeometry } from '../../bearing/geojson.ts';
import type { StudyFindings } from '../study-findings.ts';
import type { OpenStudy } from '../study-folder.ts';
import { siteOf } from '../study-folder.ts';
import type { ExportFormat } from './export-format.ts';
import { jsonParts } from './json-parts.ts';

/** The places as GeoJSON. */
export const placesFormat: ExportFormat = ({ view, findings }) => [
  ['places.geojson', jsonParts({ ...placesGeoJson(view.study, findings) })],
];

/**
 * Hive, feeders and the places that dances tell of, as points of RFC 7946 GeoJSON. A dance's point is its median
 * distance at its mean bearing; the intervals are properties. What has no place is left out.
 */
export function placesGeoJson({ settings }: OpenStudy, findings: StudyFindings): FeatureCollection {
  const site = siteOf(settings);
  const hive: Feature[] =
    site === null
      ? []
      : [
          {
            type: 'Feature',
            geometry: pointGeometry(site.longitudeDeg, site.latitudeDeg),
            properties: { kind: 'hive', name: settings.name },
          },
        ];
  return {
    type: 'FeatureCollection',
    features: [...hive, ...feederFeatures(findings), ...danceFeatures(findings)],
  };
}

function feederFeatures({ feeders }: StudyFindings): Feature[] {
  return feeders.flatMap(({ feederId, distanceM, bearingDeg, latitudeDeg, longitudeDeg }): Feature[] =>
    latitudeDeg === null || longitudeDeg === null
      ? []
      : [
          {
            type: 'Feature',
            geometry: pointGeometry(longitudeDeg, latitudeDeg),
            properties: {
              kind: 'feeder',
              feeder_id: feederId,
              distance_m: distanceM,
              bearing_deg: bearingDeg,
            },
          },
        ],
  );
}

function danceFeatures({ dances }: StudyFindings): Feature[] {
  return dances.flatMap(({ dance, estimated, bearing, place, flags }): Feature[] => {
    const row = estimated?.row;
    if (place === null || row === undefined || bearing === null) return [];
    return [
      {
        type: 'Feature',
        geometry: pointGeometry(place.longitudeDeg, place.latitudeDeg),
        properties: {
          kind: 'dance',
          dance_id: dance.id,
          bee_id: dance.beeId,
          feeder_id: dance.feederId,
          treatment: dance.treatment,
          start_time: dance.startTime,
          distance_m: row.distance_m,
          distance_low_m: row.distance_low_m,
          distance_high_m: row.distance_high_m,
          bearing_deg: bearing.bearing_deg,
          bearing_low_deg: bearing.bearing_low_deg,
          bearing_high_deg: bearing.bearing_high_deg,
          level: row.level,
          in_range: row.in_range,
          note: [row.note, ...flags].filter((note) => note !== null).join('; ') || null,
        },
      },
    ];
  });
}
