import { distanceAndBearing } from '../bearing/geodesy.ts';
import type { Site } from '../bearing/sun.ts';

/** A feeder's place as its table gives it. */
export interface GivenPlace {
  readonly feeder_id: string;
  readonly distance_m: number | null;
  readonly latitude: number | null;
  readonly longitude: number | null;
}

// Paces and maps differ by so much; a mistaken place does by more.
const SHARE_OFF = 0.1;
const METRES_OFF = 20;
/** Farther than bees are known to fly (Eckert 1933, J Agric Res 47:257: 13.7 km; from memory). */
const FARTHEST_M = 20_000;

/**
 * What makes the coordinates of a feeder doubtful: that they lie farther from the hive than bees fly, or at another
 * distance than the one that is given beside them.
 *
 * @returns null where nothing does
 */
export function feederDoubt(
  hive: Site,
  { feeder_id, distance_m, latitude, longitude }: GivenPlace,
): string | null {
  if (latitude === null || longitude === null) return null;
  const { distanceM } = distanceAndBearing(hive, { latitudeDeg: latitude, longitudeDeg: longitude });
  const lies = `feeder ${feeder_id} at latitude ${latitude}, longitude ${longitude} lies ${Math.round(distanceM)} m from the hive`;
  const odd =
    distance_m !== null && Math.abs(distance_m - distanceM) > SHARE_OFF * distanceM + METRES_OFF
      ? `, but its distance_m is ${distance_m}`
      : distanceM > FARTHEST_M
        ? ', farther than bees fly'
        : null;
  return odd === null ? null : `${lies}${odd}: is one of these wrong, or are latitude and longitude swapped?`;
}
