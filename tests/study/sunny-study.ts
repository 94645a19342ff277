import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { within360 } from '../../src/bearing/angles.ts';
import { sunPosition } from '../../src/bearing/sun.ts';
import { seededRandom } from '../../src/random.ts';
import { danceById, stateNow } from '../../src/study/store/state.ts';
import { type OpenStudy, openStudy, writeSettings } from '../../src/study/study-folder.ts';
import { call, detect, edit, knownRecording, train } from './made-study.ts';

export const site = { latitudeDeg: 51.2, longitudeDeg: 9.4 };

const feeders = [
  { id: 'reed', distanceM: 200, bearingDeg: 100 },
  { id: 'alder', distanceM: 500, bearingDeg: 220 },
  { id: 'sluice', distanceM: 900, bearingDeg: 340 },
];

/** What of the study is otherwise than it should be. */
export interface Sunny {
  /** Clock time of the recording's start. */
  readonly startTime?: string;
  /** Hours that its clock is slow. */
  readonly slowH?: number;
  readonly timeZone?: string | null;
  readonly placed?: boolean;
  readonly feeders?: string;
}

/**
 * Puts into a study one recording of eight hours with 24 dances: 18 by two bees to three feeders, 6 to places that
 * are no feeder, with comb angles read to 3°, run durations on a line of distance, and a begging call in every other.
 */
export async function sunnyStudy(made: OpenStudy, given: Sunny = {}): Promise<OpenStudy> {
  const { startTime = '2031-06-14T08:00:00', slowH = 0, timeZone = 'Europe/Berlin', placed = true } = given;
  const [latitude, longitude] = placed ? [site.latitudeDeg, site.longitudeDeg] : [null, null];
  await writeSettings(made.folder, {
    ...made.settings,
    hive: { latitude, longitude, elevationM: null, timeZone },
  });
  const table = feeders
    .map(({ id, distanceM, bearingDeg }) => `${id},${distanceM},${bearingDeg},white\n`)
    .join('');
  await writeFile(
    join(made.folder, 'feeders.csv'),
    given.feeders ?? `feeder_id,distance_m,bearing_deg,paint_mark\n${table}`,
  );
  made.store.close();
  const study = await openStudy(made.folder);
  const { store } = study;
  const recording = knownRecording(store, { startTime, durationS: 8 * 3600, channelCount: 1 });
  const random = seededRandom(12);
  const dances = Array.from({ length: 24 }, (_, k) => {
    const unknown = k % 4 === 3;
    const feeder = feeders[k % 3]!;
    return {
      startS: 300 + 1150 * k,
      feederId: unknown ? null : feeder.id,
      distanceM: unknown ? 250 + 25 * k : feeder.distanceM,
      bearingDeg: unknown ? 185 : feeder.bearingDeg,
      beeId: k % 2 === 0 ? 'red-1' : 'blue-2',
    };
  });
  const sounds = dances.flatMap(({ startS, distanceM }, k) => [
    ...Array.from({ length: 7 }, (_, run) => {
      const durationS = 0.2 + 0.001 * distanceM + 0.05 * random.normal();
      return train(startS + 3 * run, startS + 3 * run + Math.max(0.1, durationS), k);
    }),
    ...(k % 2 === 0 ? [call(startS + 1.8, startS + 1.95)] : []),
  ]);
  detect(store, recording.id, sounds);
  const zero = Date.parse('2031-06-14T08:00:00+02:00') + 3_600_000 * slowH;
  const ids = [...stateNow(store).dances.keys()].sort();
  for (const [k, id] of ids.entries()) {
    const { startS, feederId, bearingDeg, beeId } = dances[k]!;
    const sun = sunPosition(site, zero + 1000 * (startS + 9));
    const combAngleDeg = within360(Math.round(bearingDeg - sun.azimuthDeg + 3 * random.normal()));
    const target = { id, version: danceById(store, id)!.version };
    edit(store, { kind: 'dance', target, changes: { beeId, feederId, combAngleDeg } });
  }
  return study;
}
