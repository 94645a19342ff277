import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { goalOf } from '../../src/bearing/geodesy.ts';
import { saveCalibration } from '../../src/study/store/calibrations.ts';
import { studyFindings } from '../../src/study/study-findings.ts';
import { readGivenPlaces, readPlaces } from '../../src/study/study-folder.ts';
import { studyView } from '../../src/study/study-view.ts';
import { studyFolders } from './made-study.ts';
import { site, sunnyStudy } from './sunny-study.ts';

const newStudy = studyFolders();

test('feeders given by coordinates have distance and bearing from the hive, and their dances the distance', async () => {
  const study = await sunnyStudy(await newStudy('coordinates'));
  const { latitudeDeg, longitudeDeg } = goalOf(site, 100, 200);
  const table = `feeder_id,latitude,longitude,distance_m\nreed,${latitudeDeg},${longitudeDeg},\nalder,,,500\nsluice,,,900\n`;
  await writeFile(join(study.folder, 'feeders.csv'), table);
  const places = await readPlaces(study);
  expect(places.feeders[0]!.distanceM).toBeCloseTo(200, 1);
  expect(places.feeders[0]!.bearingDeg).toBeCloseTo(100, 2);
  expect((await readGivenPlaces(study)).feeders[0]).toMatchObject({ distanceM: null, bearingDeg: null });
  const { dances } = studyFindings(studyView(study, places));
  expect(dances[0]!.dance).toMatchObject({ feederId: 'reed', feederDistanceM: places.feeders[0]!.distanceM });
  study.store.close();
});

test('a calibration of another format is refused by its name', async () => {
  const study = await sunnyStudy(await newStudy('old'));
  const record = { format: 'combtone calibration', formatVersion: 1 } as never;
  saveCalibration(study.store, { name: 'long ago', reviewer: 'ada', danceIds: [], record });
  const view = studyView(study, await readPlaces(study));
  expect(() => studyFindings(view)).toThrow(
    /study\.sqlite: calibration long ago, formatVersion: found 1, from an older/,
  );
  study.store.close();
});
