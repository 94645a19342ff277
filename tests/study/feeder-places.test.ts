import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test, vi } from 'vitest';
import { goalOf } from '../../src/bearing/geodesy.ts';
import { readFeederPlaces } from '../../src/study/places.ts';
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

test('coordinates that are far off, or off the distance beside them, are told of by row', async () => {
  const study = await sunnyStudy(await newStudy('doubtful'));
  const file = join(study.folder, 'feeders.csv');
  const { latitudeDeg, longitudeDeg } = goalOf(site, 100, 500);
  const at = `${latitudeDeg.toFixed(5)},${longitudeDeg.toFixed(5)}`;
  const swapped = at.split(',').reverse().join(',');
  const rows = [
    `near,${at},431`,
    `paced,${at},429`,
    `turned,${swapped},500`,
    `far,${swapped},`,
    'told,,,500',
  ];
  const table = `feeder_id,latitude,longitude,distance_m\n${rows.join('\n')}\n`;
  const doubts = [
    /^combtone: warning: .*\.csv, row 3: feeder paced at .* lies 500 m from the hive, but its distance_m is 429: /,
    /row 4: feeder turned at latitude 9\.\d+, longitude 51\.\d+ lies \d{7} m from the hive, but its distance_m is 500: .*latitude and longitude swapped\?\n$/,
    /row 5: feeder far .* lies \d{7} m from the hive, farther than bees fly: /,
  ];
  const spy = vi.spyOn(process.stderr, 'write').mockImplementation(() => true);
  try {
    await writeFile(file, table);
    expect((await readPlaces(study)).feeders).toHaveLength(5);
    await writeFile(join(study.folder, 'others.csv'), table);
    await readFeederPlaces(join(study.folder, 'others.csv'), site);
    const said = spy.mock.calls.map(([line]) => String(line));
    expect(said).toEqual([...doubts, ...doubts].map((doubt) => expect.stringMatching(doubt)));
  } finally {
    spy.mockRestore();
  }
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
