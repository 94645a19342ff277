import { radians, within360 } from '../../src/bearing/angles.ts';
import { directionOfInterval } from '../../src/bearing/direction.ts';
import { densityOfInterval } from '../../src/bearing/distance-density.ts';
import { gridOfPlace, placeOf } from '../../src/bearing/place.ts';
import { regionsOf } from '../../src/bearing/regions.ts';
import type { Random } from '../../src/random.ts';
import { bearingsOf } from '../../src/study/bearings.ts';
import type { AngledDance } from '../../src/study/bearings-observations.ts';
import type { FeederPlace } from '../../src/study/places.ts';
import { drawVonMises } from './draw-von-mises.ts';
import { polygonsHold } from './polygons-hold.ts';

/** A simulated colony's way of dancing, and how much of it an observer sees. */
export interface SimulatedColony {
  readonly runKappa: number;
  /** Scatter of whole dances about their goal, degrees; 0 for none. */
  readonly danceSdDeg: number;
  /** Misdirection is this, degrees, times the sine of the comb angle, and half of it throughout. */
  readonly misdirectionDeg: number;
  /** Dances to feeders of known bearing, all around the comb. */
  readonly knownDances: number;
  /** Dances to unknown places. */
  readonly unknownDances: number;
  readonly fewestRuns: number;
  readonly mostRuns: number;
  /** Standard deviation of a distance, as a share of it; with `skewed` of its logarithm. */
  readonly distanceSd: number;
  readonly skewed: boolean;
}

export interface Held {
  readonly dances: number;
  /** True places inside the region of 50, 80 and 95 %. */
  readonly inside: readonly [number, number, number];
}

const levels = [0.5, 0.8, 0.95] as const;

/**
 * Simulates one colony's dances to feeders and to places drawn at random, decodes them as the commands do, and
 * counts the true places inside the regions of the map.
 */
export function simulateColony(random: Random, colony: SimulatedColony): Held {
  const feeders = Array.from({ length: colony.knownDances }, (_, k): FeederPlace => {
    const bearingDeg = within360((360 * k) / colony.knownDances + random.between(-5, 5));
    return { feederId: `f${k}`, distanceM: 300, bearingDeg, latitudeDeg: null, longitudeDeg: null };
  });
  const goals = Array.from({ length: colony.unknownDances }, () => ({
    bearingDeg: random.between(0, 360),
    distanceM: Math.exp(random.between(Math.log(150), Math.log(5000))),
  }));
  const dances = [
    ...feeders.map((feeder) => danceTo(random, colony, feeder.feederId, feeder.bearingDeg!, feeder.feederId)),
    ...goals.map((goal, k) => danceTo(random, colony, `d${k}`, goal.bearingDeg, null)),
  ];
  const { rows } = bearingsOf(dances, feeders, {
    posture: 'vertical',
    runs: 'all',
    level: 0.95,
    runScatter: null,
  });
  const inside: [number, number, number] = [0, 0, 0];
  goals.forEach((goal, k) => {
    const row = rows[colony.knownDances + k];
    const halfWidth = within360(row.bearing_high_deg! - row.bearing_low_deg!) / 2;
    const direction = directionOfInterval(row.bearing_deg!, halfWidth, row.level!, row.direction_dof!);
    const place = placeOf(densityOfInterval(distanceRead(random, colony, goal.distanceM)), direction);
    const at = radians(goal.bearingDeg);
    const truth = [goal.distanceM * Math.sin(at), goal.distanceM * Math.cos(at)] as const;
    regionsOf(gridOfPlace(place), levels).forEach(({ polygons }, level) => {
      if (polygonsHold(polygons, truth)) inside[level]++;
    });
  });
  return { dances: goals.length, inside };
}

function danceTo(
  random: Random,
  colony: SimulatedColony,
  danceId: string,
  bearingDeg: number,
  feederId: string | null,
): AngledDance {
  const sunAzimuthDeg = random.between(90, 270);
  const angleDeg = bearingDeg - sunAzimuthDeg;
  const missedDeg = colony.misdirectionDeg * (0.5 + Math.sin(radians(angleDeg)));
  const shownDeg = angleDeg + missedDeg + colony.danceSdDeg * random.normal();
  const count = colony.fewestRuns + random.below(colony.mostRuns - colony.fewestRuns + 1);
  const runs = Array.from({ length: count }, () => ({
    combAngleDeg: drawVonMises(random, shownDeg, colony.runKappa),
    sunAzimuthDeg,
    sunElevationDeg: 40,
  }));
  return { danceId, beeId: null, feederId, treatment: null, startTime: '2025-06-14T09:00Z', runs, flags: [] };
}

/** A distance as it is read, with its interval of 95 %. */
function distanceRead(random: Random, { distanceSd, skewed }: SimulatedColony, trueM: number) {
  const z = 1.959963984540054;
  if (skewed) {
    const medianM = trueM * Math.exp(distanceSd * random.normal());
    const factor = Math.exp(z * distanceSd);
    return { medianM, lowM: medianM / factor, highM: medianM * factor, level: 0.95 };
  }
  const sdM = distanceSd * trueM;
  const medianM = trueM + sdM * random.normal();
  return { medianM, lowM: medianM - z * sdM, highM: medianM + z * sdM, level: 0.95 };
}

/** Colonies the coverage is held on. */
export const colonies: Readonly<Record<string, SimulatedColony>> = {
  'runs scatter, nothing else': {
    runKappa: 20,
    danceSdDeg: 0,
    misdirectionDeg: 0,
    knownDances: 0,
    unknownDances: 40,
    fewestRuns: 2,
    mostRuns: 8,
    distanceSd: 0.12,
    skewed: false,
  },
  'few dances of few runs, so that the scatter itself is in doubt': {
    runKappa: 15,
    danceSdDeg: 0,
    misdirectionDeg: 0,
    knownDances: 0,
    unknownDances: 3,
    fewestRuns: 2,
    mostRuns: 4,
    distanceSd: 0.12,
    skewed: false,
  },
  'dances scatter and miss, learnt from 24 dances to feeders': {
    runKappa: 20,
    danceSdDeg: 8,
    misdirectionDeg: 6,
    knownDances: 24,
    unknownDances: 40,
    fewestRuns: 2,
    mostRuns: 8,
    distanceSd: 0.12,
    skewed: false,
  },
  'the same with skewed distances and ragged runs': {
    runKappa: 6,
    danceSdDeg: 8,
    misdirectionDeg: 6,
    knownDances: 24,
    unknownDances: 40,
    fewestRuns: 2,
    mostRuns: 8,
    distanceSd: 0.2,
    skewed: true,
  },
};
