import { seededRandom } from '../random.ts';
import { planBees } from './bees.ts';
import type { PartialSimulationOptions } from './options.ts';

/**
 * The demo's scenario, an invention: an observation hive at the Marrowfen station, eight marked foragers
 * trained to feeders along one line of flight, and afterwards dances to places nobody knows.
 */
export const demoStation = 'Marrowfen station (invented), hive 3';

/** Where the invented station would stand: a point on the map, no place that is meant. */
export const demoHive = {
  latitude: 51.2,
  longitude: 9.4,
  elevationM: 180,
  timeZone: 'Europe/Berlin',
} as const;

/** The line of flight to all feeders, degrees clockwise from true north. */
export const demoFeederBearingDeg = 118;

export interface DemoFeeder {
  readonly feederId: string;
  readonly distanceM: number;
  readonly paintMark: string;
}

export const demoFeeders: readonly DemoFeeder[] = [
  { feederId: 'reed', distanceM: 150, paintMark: 'white' },
  { feederId: 'alder', distanceM: 350, paintMark: 'yellow' },
  { feederId: 'sluice', distanceM: 700, paintMark: 'red' },
  { feederId: 'mound', distanceM: 1200, paintMark: 'green' },
  { feederId: 'ferry', distanceM: 2000, paintMark: 'blue' },
];

const bees = planBees(8, 0.05, seededRandom(41));

const common: PartialSimulationOptions = {
  bees,
  snrDb: 8,
  snrDanceSdDb: 1.5,
  medianCircuits: 9,
  curve: { kind: 'line', interceptS: 0.2, slopeSPerM: 0.00115 },
  runScatterScale: 0.6,
};

/** The training day: each feeder open in turn, a dance every minute and a half. */
export const demoTraining: PartialSimulationOptions = {
  ...common,
  seed: 15,
  lengthS: 1800,
  startTime: '2031-06-14T09:30:00+02:00',
  dancesPerHour: 75,
  feeders: demoFeeders.map(({ feederId, distanceM }) => ({ feederId, distanceM })),
  feederOrder: 'stepwise',
};

/** The day after: dances of the same bees to places that are no feeder. */
export const demoForaging: PartialSimulationOptions = {
  ...common,
  seed: 27,
  lengthS: 600,
  startTime: '2031-06-15T10:00:00+02:00',
  dancesPerHour: 75,
  unknownShare: 1,
  unknownRangeM: [250, 1900],
};
