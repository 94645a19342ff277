import { existsSync } from 'node:fs';
import { rename, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { setImmediate as nextTurn } from 'node:timers/promises';
import { DateTime } from 'luxon';
import { within360 } from '../bearing/angles.ts';
import { combAngleTo } from '../bearing/comb-angle.ts';
import { sunPosition } from '../bearing/sun.ts';
import { InputError } from '../input-error.ts';
import { type Random, seededRandom } from '../random.ts';
import { demoFeederBearingDeg, demoFeeders, demoHive, demoTraining } from '../simulate/demo-scenario.ts';
import { writeTable } from '../study/csv.ts';
import type { RecordingDetection } from '../study/detect-recording.ts';
import { feederTableSchema } from '../study/feeders.ts';
import { openingTableSchema } from '../study/openings.ts';
import { saveCalibration } from '../study/store/calibrations.ts';
import { applyEdit } from '../study/store/edit.ts';
import { calibrateDances } from '../study/study-calibration.ts';
import { keepFindings, searchSettings } from '../study/study-detect.ts';
import {
  initStudy,
  newSettings,
  type OpenStudy,
  openStudy,
  readPlaces,
  siteOf,
} from '../study/study-folder.ts';
import { dancesAtFeeders } from '../study/study-observations.ts';
import { addRecording } from '../study/study-recordings.ts';
import type { Dance } from '../study/study-schemas.ts';
import { listDances, type StudyView, studyView } from '../study/study-view.ts';
import type { DanceRow } from '../study/tables.ts';

/** A recording of the demo, what was found in it, and for each dance found the true one it is of. */
export interface DemoRecording {
  readonly path: string;
  readonly found: RecordingDetection;
  readonly trueDance: (startS: number, endS: number) => DanceRow | undefined;
}

const STUDY_NAME = 'Marrowfen demo (simulated)';
const OBSERVER = 'the demo’s observer';
/** How well an observer reads a dancer's angle off the comb, SD in degrees: a guess. */
const ANGLE_SD_DEG = 5;

/**
 * Makes a study folder of the demo's recordings: places, openings, findings, and what an observer at the hive would
 * have noted of each dance (bee, paint mark, comb angle), with a calibration on the dances at the feeders. A study of
 * an earlier demo is replaced.
 *
 * @throws InputError when the folder holds a study that is not the demo's; the signal's reason where it ends the work,
 *   which leaves the study as it was
 */
export async function makeDemoStudy(
  folder: string,
  recordings: readonly DemoRecording[],
  signal?: AbortSignal,
): Promise<void> {
  await refuseOther(folder);
  const made = `${folder}.${process.pid}.tmp`;
  try {
    await fillStudy(made, recordings, signal);
    await rm(folder, { recursive: true, force: true });
    await rename(made, folder);
  } catch (error) {
    await rm(made, { recursive: true, force: true });
    throw error;
  }
}

async function refuseOther(folder: string): Promise<void> {
  if (!existsSync(folder)) return;
  const { settings, store } = await openStudy(folder);
  store.close();
  if (settings.name === STUDY_NAME) return;
  throw new InputError({
    file: folder,
    found: `the study ${settings.name}`,
    wanted: 'a place for the demo’s own study: another --out',
  });
}

async function fillStudy(
  folder: string,
  recordings: readonly DemoRecording[],
  signal?: AbortSignal,
): Promise<void> {
  await initStudy(folder, { ...newSettings(STUDY_NAME), hive: demoHive });
  await writePlaces(folder);
  const study = await openStudy(folder);
  try {
    const random = seededRandom(118);
    for (const demo of recordings) {
      const { recording } = await addRecording(study, demo.path);
      keepFindings(study, recording, demo.found, searchSettings(study, {}));
      const view = studyView(study, await readPlaces(study));
      for (const dance of listDances(view, recording.id)) noteDance(study, dance, demo, random);
      await nextTurn();
      signal?.throwIfAborted();
    }
    calibrateNoted(study, studyView(study, await readPlaces(study)));
  } finally {
    study.store.close();
  }
}

/** Each feeder in its turn, as the training day has them. */
async function writePlaces(folder: string): Promise<void> {
  await writeTable(
    join(folder, 'feeders.csv'),
    feederTableSchema,
    demoFeeders.map(({ feederId, distanceM, paintMark }) => ({
      feeder_id: feederId,
      distance_m: distanceM,
      bearing_deg: demoFeederBearingDeg,
      latitude: null,
      longitude: null,
      paint_mark: paintMark,
    })),
  );
  const start = DateTime.fromISO(demoTraining.startTime!, { setZone: true });
  const eachS = demoTraining.lengthS! / demoFeeders.length;
  const at = (timeS: number) => start.plus({ seconds: timeS }).toISO({ suppressMilliseconds: true })!;
  await writeTable(
    join(folder, 'openings.csv'),
    openingTableSchema,
    demoFeeders.map(({ feederId }, k) => ({
      feeder_id: feederId,
      start: at(k * eachS),
      end: at((k + 1) * eachS),
    })),
  );
}

const LEAST_RUNS = 3;

/** What is noted at the hive of a dance that is watched long enough. */
function noteDance(study: OpenStudy, dance: Dance, { trueDance }: DemoRecording, random: Random): void {
  const real = trueDance(dance.startS, dance.endS);
  if (real === undefined || dance.runCount < LEAST_RUNS) return;
  const elsewhereDeg = random.between(0, 360);
  const sun = sunPosition(siteOf(study.settings)!, Date.parse(dance.startTime!));
  const bearingDeg = real.feeder_id === null ? elsewhereDeg : demoFeederBearingDeg;
  const angle = combAngleTo(bearingDeg, sun.azimuthDeg) + ANGLE_SD_DEG * random.normal();
  const feeder = demoFeeders.find(({ feederId }) => feederId === real.feeder_id);
  const changes = {
    beeId: real.bee_id,
    combAngleDeg: within360(Math.round(angle)),
    ...(feeder === undefined ? {} : { paintMark: feeder.paintMark }),
    // The openings tell the feeder, but for dances that outlast them.
    ...(real.feeder_id === dance.feederId ? {} : { feederId: real.feeder_id }),
  };
  const { id, version } = dance;
  applyEdit(study.store, { kind: 'dance', target: { id, version }, changes }, { reviewer: OBSERVER });
}

function calibrateNoted({ store }: OpenStudy, view: StudyView): void {
  const noted = listDances(view).filter(({ beeId, feederId }) => beeId !== null && feederId !== null);
  const { observed } = dancesAtFeeders(
    view,
    noted.map(({ id }) => id),
  );
  const record = calibrateDances(observed, { curve: 'auto', runs: 'inner' });
  const danceIds = observed.map(({ danceId }) => danceId);
  saveCalibration(store, { name: 'training day', reviewer: OBSERVER, danceIds, record });
}
