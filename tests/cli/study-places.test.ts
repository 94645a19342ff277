import { cp, readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { beforeAll, describe, expect, test } from 'vitest';
import { registerDay } from '../../src/cli/day.ts';
import { registerExport } from '../../src/cli/export.ts';
import { registerMap } from '../../src/cli/map.ts';
import { registerReport } from '../../src/cli/report.ts';
import { registerStudy } from '../../src/cli/study.ts';
import { studyFolders } from '../study/made-study.ts';
import { type Sunny, sunnyStudy } from '../study/sunny-study.ts';
import { combtone, expectRefused, temporaryFolder } from './run-combtone.ts';
import { refusalOf } from './run-command.ts';

/** Commands whose refusals are looked at here without a process for each: how refusals end one, others test. */
const REGISTER = {
  day: registerDay,
  export: registerExport,
  map: registerMap,
  report: registerReport,
  study: registerStudy,
};

const at = temporaryFolder();
const newStudy = studyFolders();

/** A copy of a made study in a folder of its own. */
async function studyAt(name: string, given: Sunny = {}): Promise<string> {
  const study = await sunnyStudy(await newStudy(name), given);
  study.store.close();
  await cp(study.folder, at(name), { recursive: true });
  return at(name);
}

async function done(...args: string[]): Promise<string> {
  const ran = await combtone(...args);
  expect(ran).toMatchObject({ code: 0 });
  return ran.stdout;
}

/** Writes other settings of the hive into study.json. */
async function changeHive(study: string, changes: Readonly<Record<string, unknown>>): Promise<void> {
  const file = join(study, 'study.json');
  const settings = JSON.parse(await readFile(file, 'utf8'));
  await writeFile(file, JSON.stringify({ ...settings, hive: { ...settings.hive, ...changes } }));
}

let good = '';
beforeAll(async () => {
  good = await studyAt('good');
  await done('calibrate', '--study', good, '--curve', 'line', '--name', 'june');
});

describe('a study from calibration to map, report and tables', () => {
  test('map, day, report and export agree on the places', async () => {
    const map = JSON.parse(await done('map', '--study', good, '--out', at('map'), '--json'));
    expect(map.places.length).toBe(6);
    for (const { bearing_deg, area_95_ha } of map.places) {
      expect(Math.abs(bearing_deg - 185)).toBeLessThan(12);
      expect(area_95_ha).toBeGreaterThan(0);
    }
    await done('export', '--study', good, '--out', at('tables'));
    const geojson = JSON.parse(await readFile(at('tables/places.geojson'), 'utf8'));
    const byKind = (kind: string) =>
      geojson.features.filter(({ properties }: { properties: { kind: string } }) => properties.kind === kind);
    expect([byKind('hive').length, byKind('feeder').length, byKind('dance').length]).toEqual([1, 3, 24]);
    for (const place of map.places) {
      const feature = byKind('dance').find(
        ({ properties }: { properties: { dance_id: string } }) => properties.dance_id === place.dance_id,
      );
      expect(feature.geometry.coordinates).toEqual([place.longitude, place.latitude]);
    }
    const day = JSON.parse(await done('day', '--study', good, '--out', at('day'), '--json'));
    expect(day.dances.length).toBe(24);
    expect((await readdir(at('day'))).sort()).toEqual([
      'day_arrivals.csv',
      'day_dances.csv',
      'day_hours.csv',
    ]);
    // Written twice, the page is the same.
    const one = at('one.html');
    expect(await done('report', '--study', good, '--out', one)).toBe(`Written: ${one}\n`);
    const beside = join(good, 'report.html');
    expect(await done('report', '--study', good)).toBe(`Written: ${beside}\n`);
    expect((await readFile(one)).equals(await readFile(beside))).toBe(true);
  });

  test('bearings are those of the report and the map', async () => {
    const { bearings } = JSON.parse(await done('bearing', '--study', good, '--json'));
    expect(bearings.length).toBe(24);
    const map = JSON.parse(await done('map', '--study', good, '--json'));
    for (const { dance_id: id, bearing_deg: bearing } of map.places) {
      expect(bearings.find((row: { dance_id: string }) => row.dance_id === id).bearing_deg).toBe(bearing);
    }
    const unplaced = await studyAt('no place', { placed: false });
    expectRefused(await combtone('bearing', '--study', unplaced), /a hive without latitude and longitude/);
    expectRefused(
      await combtone('bearing', '--study', good, '--run-sd', '10'),
      /--run-sd: found one beside --study alone/,
    );
    expectRefused(await combtone('bearing'), /found neither it nor --study/);
  });

  test('treatments noted in a study are compared, and only the reference serves for its curve', async () => {
    const treated = await studyAt('treated');
    expectRefused(await combtone('compare', '--study', treated), /no treatment beside the reference/);
    const { dances } = JSON.parse(await done('day', '--study', treated, '--json'));
    const fed = dances.filter(({ feeder_id: feeder }: { feeder_id: string | null }) => feeder !== null);
    const rows = fed.map(
      ({ dance_id: id }: { dance_id: string }, k: number) => `${id},${k % 2 ? 'loaded' : ''}`,
    );
    const loaded = rows.filter((row: string) => row.endsWith('loaded'));
    await writeFile(at('treated.csv'), `dance_id,treatment\n${loaded.join('\n')}\n`);
    await done('study', 'note', '--study', treated, '--from', at('treated.csv'), '--reviewer', 'ada');
    const told = JSON.parse(await done('compare', '--study', treated, '--json'));
    expect(told.treatments.map(({ treatment }: { treatment: string }) => treatment)).toEqual(['loaded']);
    const { treatedDances, referenceDances } = told.treatments[0].duration.counts;
    expect([treatedDances, referenceDances]).toEqual([loaded.length, fed.length - loaded.length]);
    expect(await done('calibrate', '--study', treated, '--curve', 'line')).toContain(
      `${loaded.length} of ${fed.length} dances are of other treatments (loaded) and did not serve`,
    );
    expectRefused(
      await combtone('compare', '--study', treated, '--observations', 'x.csv'),
      /--study: found --observations beside it/,
    );
  });

  test('a clock that is wrong is told: dances by night, no bearing', async () => {
    const night = await studyAt('night', { startTime: '2031-06-14T20:00:00' });
    expect(await done('day', '--study', night)).toMatch(
      /sun is more than 6° below the horizon: the clock, the time zone/,
    );
    await done('export', '--study', night, '--out', at('night tables'));
    const dances = await readFile(at('night tables/dances.csv'), 'utf8');
    expect(dances).toMatch(
      /sun \d+\.\d° below the horizon: the clock, the time zone or the coordinates are wrong/,
    );
  });

  test('nothing to map is an error that says why', async () => {
    const unplaced = await studyAt('unplaced', { placed: false });
    expectRefused(
      await combtone('map', '--study', unplaced),
      /nothing to map: study\.json has no coordinates of the hive/,
    );
    const plain = await studyAt('plain');
    expectRefused(await combtone('map', '--study', plain), /nothing to map: nothing is calibrated yet/);
    const zoneless = at('zoneless');
    await cp(good, zoneless, { recursive: true });
    await changeHive(zoneless, { timeZone: null });
    expectRefused(
      await combtone('map', '--study', zoneless),
      /nothing to map: .*neither an offset nor a time zone/,
    );
  });

  test.each([
    [
      'distance 0',
      'feeder_id,distance_m\nreed,0\n',
      /feeders\.csv, row 2, column distance_m: found "0"; wanted metres above 0/,
    ],
    [
      'latitude 91',
      'feeder_id,latitude,longitude\nreed,91,9\n',
      /row 2, column latitude: found "91"; wanted degrees/,
    ],
    [
      'longitude 181',
      'feeder_id,latitude,longitude\nreed,51,181\n',
      /row 2, column longitude: found "181"; wanted degrees/,
    ],
    [
      'half a place',
      'feeder_id,latitude,longitude\nreed,51,\n',
      /row 2, column longitude: found an empty cell/,
    ],
  ])('a feeder with %s is refused by every command on the study', async (name, feeders, wanted) => {
    const study = await studyAt(`feeder ${name}`);
    await writeFile(`${study}/feeders.csv`, feeders);
    for (const command of ['day', 'report', 'export'] as const) {
      const out = command === 'day' ? [] : ['--out', at(`no ${name}`)];
      expect(await refusalOf(REGISTER[command], [command, '--study', study, ...out])).toMatch(wanted);
    }
    expect(await readdir(at('.'))).not.toContain(`no ${name}`);
  });

  test.each([
    [['study', 'init', 'LOST', '--latitude', '91'], /--latitude: found "91"/],
    [
      ['study', 'init', 'LOST', '--longitude', '181'],
      /--longitude: found "181"; wanted a number from -180 to 180/,
    ],
    [
      ['map', '--estimates', 'x.csv'],
      /--bearings: found no table; wanted both --estimates and --bearings, or --study/,
    ],
    [['map', '--study', 'GOOD', '--feeders', 'x.csv'], /--feeders: found one beside --study alone/],
    [['day', '--study', 'LOST'], /no study\.json in it/],
    [['report', '--study', 'LOST', '--out', 'LOST.html'], /no study\.json in it/],
    [['report', '--study', 'GOOD', '--out', 'LOST/x.html'], /there is no folder/],
    [['report', '--study', 'GOOD', '--out', 'LOST.html', '--level', '95'], /--level: found "95"/],
    [['day', '--study', 'GOOD', '--window', '0'], /--window: found "0"/],
    [['day', '--study', 'GOOD', '--out', 'GOOD/study.json'], /a place that cannot be made a folder/],
    [['study', 'note', 'GOOD', '--from', 'x.csv', '--reviewer', ' '], /--reviewer: found " "/],
    [['study', 'note', 'GOOD', '--from', 'LOST.csv', '--reviewer', 'ada'], /LOST\.csv: found no such file/],
  ])('refuses %j', async (words, wanted) => {
    const call = words.map((word) => word.replace('GOOD', good).replace('LOST', at('LOST')));
    expect(await refusalOf(REGISTER[words[0] as keyof typeof REGISTER], call)).toMatch(wanted);
    expect((await readdir(at('.'))).filter((name) => name.startsWith('LOST'))).toEqual([]);
  });

  test('study.json with a longitude of 181 is refused', async () => {
    const study = await studyAt('settings');
    await changeHive(study, { longitude: 181 });
    expectRefused(await combtone('day', '--study', study), /study\.json, hive\.longitude: found 181/);
  });
});
