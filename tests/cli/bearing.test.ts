import { mkdir, readdir, readFile, writeFile } from 'node:fs/promises';
import { describe, expect, test } from 'vitest';
import { sunPosition } from '../../src/bearing/sun.ts';
import { registerBearing } from '../../src/cli/bearing.ts';
import { seededRandom } from '../../src/random.ts';
import { combtone, expectRefused, temporaryFolder } from './run-combtone.ts';
import { refusalOf, runCommand } from './run-command.ts';

const at = temporaryFolder();

const put = async (name: string, content: string): Promise<string> => {
  await writeFile(at(name), content);
  return at(name);
};

const HIVE = ['--latitude', '48', '--longitude', '11', '--time-zone', 'Europe/Berlin'];
const ANGLES = `dance_id,comb_angle_deg,start_time
d1,-42,2025-06-14T09:30:00
d1,-37,
d1,-45,2025-06-14T09:30:20
d1,-41,
d2,120,2025-06-14T15:00:00+02:00
d2,,
d2,110,
`;

// Run in this process, for there are many calls.
const printed = (...args: readonly string[]) => runCommand(registerBearing, args);
const refusal = (...args: readonly string[]) => refusalOf(registerBearing, args);

describe('combtone bearing', () => {
  test('gives each dance a bearing with its interval, for people and for machines', async () => {
    const observations = await put('angles.csv', ANGLES);
    const out = at('bearings.csv');
    const json = await combtone('bearing', '--observations', observations, ...HIVE, '--out', out, '--json');
    expect(json).toMatchObject({ code: 0, stderr: '' });
    const { bearings, run_scatter, direction_calibration } = JSON.parse(json.stdout);
    expect(run_scatter.degrees_of_freedom).toBe(2);
    expect(direction_calibration).toBeNull();
    const sun = sunPosition({ latitudeDeg: 48, longitudeDeg: 11 }, Date.parse('2025-06-14T07:30:00Z'));
    // Of four runs the inner two are used: −37 by the first time, −45 by the second, a little later.
    expect(bearings[0]).toMatchObject({ dance_id: 'd1', run_count: 4, used_runs: 2, mean_divergence_deg: 8 });
    expect(bearings[0].bearing_deg).toBeCloseTo(sun.azimuthDeg - 41, 0);
    expect(bearings[0].sun_elevation_deg).toBeCloseTo(sun.elevationDeg, 0);
    const half = (bearings[0].bearing_high_deg - bearings[0].bearing_low_deg) / 2;
    expect(half).toBeGreaterThan(5);
    expect(bearings[0].bearing_low_deg + half).toBeCloseTo(bearings[0].bearing_deg, 2);
    expect(bearings[1]).toMatchObject({ dance_id: 'd2', run_count: 3, used_runs: 2, flags: null });
    const table = await readFile(out, 'utf8');
    expect(table.split('\n')[0]).toMatch(/^dance_id,.*bearing_deg,bearing_low_deg,bearing_high_deg,level/);
    expect(table.split('\n')).toHaveLength(4);
    const text = await printed('bearing', '--observations', observations, ...HIVE);
    expect(text).toMatch(/d1 +2[\s\S]*No directional calibration/);
  });

  test('takes the hive from study.json, or from the folder that it lies in', async () => {
    await mkdir(at('study'), { recursive: true });
    const settings = {
      hive: { latitude: 48, longitude: 11, elevationM: 500, timeZone: 'Europe/Berlin' },
      comb: { orientation: 'horizontal' },
    };
    const file = await put('study/study.json', JSON.stringify(settings));
    const observations = await put('by study.csv', ANGLES);
    const call = ['bearing', '--observations', observations, '--json', '--study'];
    const json = await printed(...call, file);
    expect(await printed(...call, at('study'))).toBe(json);
    // A horizontal comb points to the goal itself.
    expect(JSON.parse(json).bearings[0].bearing_deg).toBeCloseTo(319, 2);
  });

  test('learns misdirection from simulated dances to feeders', async () => {
    const random = seededRandom(17);
    const site = { latitudeDeg: 48, longitudeDeg: 11 };
    const sun = sunPosition(site, Date.parse('2025-06-14T07:30:00Z'));
    const lines = Array.from({ length: 24 }, (_, k) =>
      [0, 1, 2].map(() => {
        const angle = 15 * k - sun.azimuthDeg + 10 + 4 * random.normal();
        return `k${k},f${k},${((((angle + 180) % 360) + 360) % 360) - 180},2025-06-14T09:30:00`;
      }),
    ).flat();
    const observations = await put(
      'known.csv',
      `dance_id,feeder_id,comb_angle_deg,start_time\n${lines.join('\n')}\nd1,,0,2025-06-14T09:30:00\n`,
    );
    const feeders = await put(
      'feeders.csv',
      `feeder_id,distance_m,bearing_deg\n${Array.from({ length: 24 }, (_, k) => `f${k},300,${15 * k}`).join('\n')}\n`,
    );
    const call = ['bearing', '--observations', observations, '--feeders', feeders, ...HIVE, '--json'];
    const stdout = await printed(...call);
    const { bearings, direction_calibration } = JSON.parse(stdout);
    expect(direction_calibration.dances).toBe(24);
    const last = bearings.at(-1);
    expect(Math.abs(last.misdirection_deg - 10)).toBeLessThan(3);
    expect(last.bearing_deg).toBeCloseTo(sun.azimuthDeg - last.misdirection_deg, 1);
    expect(Math.abs(bearings[0].deviation_deg - 10)).toBeLessThan(10);
  });

  test('flags the sun near the zenith and an offset that is not the zone’s', async () => {
    const observations = await put(
      'flags.csv',
      'dance_id,comb_angle_deg,start_time\nd1,0,2025-03-20T12:07:00+00:00\nd1,3,\n',
    );
    const place = ['--latitude', '1', '--longitude', '0', '--time-zone', 'Europe/Berlin'];
    const stdout = await printed('bearing', '--observations', observations, ...place, '--json');
    const [{ flags }] = JSON.parse(stdout).bearings;
    expect(flags).toMatch(/offset \+00:00 is not that of Europe\/Berlin \(\+01:00\)/);
    expect(flags).toMatch(/near the zenith: its azimuth is unsafe/);
    const oblique = await printed(
      'bearing',
      '--observations',
      observations,
      ...place,
      '--comb',
      'oblique',
      '--json',
    );
    expect(JSON.parse(oblique).bearings[0]).toMatchObject({
      bearing_deg: null,
      flags: expect.stringMatching(/oblique comb: the angle cannot be read with certainty/),
    });
  });
});

describe('combtone bearing refuses', () => {
  const row = (angle: string, time: string) => `dance_id,comb_angle_deg,start_time\nd1,${angle},${time}\n`;
  const good = '2025-06-14T09:30:00';

  test.each([
    ['an angle of 720', row('720', good), HIVE, /row 2, column comb_angle_deg: found "720"; wanted degrees/],
    [
      'an angle of left',
      row('left', good),
      HIVE,
      /row 2, column comb_angle_deg: found "left"; wanted a number/,
    ],
    [
      'no angles',
      'dance_id,start_time\nd1,2025-06-14T09:30:00\n',
      HIVE,
      /header: found no column comb_angle_deg/,
    ],
    ['no rows', 'dance_id,comb_angle_deg,start_time\n', HIVE, /found a header and no rows/],
    ['no time', row('5', ''), HIVE, /row 2, column start_time: found no time in any row of dance d1/],
    [
      'no time zone',
      row('5', good),
      HIVE.slice(0, 4),
      /row 2, column start_time.*neither an offset nor a time zone; wanted a time zone/,
    ],
    ['a time that does not exist', row('5', '2025-03-30T02:30:00'), HIVE, /does not exist in Europe\/Berlin/],
    ['a time that exists twice', row('5', '2025-10-26T02:30:00'), HIVE, /exists twice in Europe\/Berlin/],
    [
      'a dance by night',
      row('5', '2025-06-14T23:30:00'),
      HIVE,
      /the sun was \d+\.\d° below the horizon.*clock/,
    ],
    [
      'latitude 91',
      row('5', good),
      ['--latitude', '91', ...HIVE.slice(2)],
      /--latitude: found "91"; wanted a number from -90 to 90/,
    ],
    [
      'longitude 181',
      row('5', good),
      [...HIVE.slice(0, 2), '--longitude', '181'],
      /--longitude: found "181"; wanted a number from -180 to 180/,
    ],
    [
      'a hive without coordinates',
      row('5', good),
      [],
      /found a hive without latitude; wanted latitude and longitude/,
    ],
    ['half the coordinates', row('5', good), HIVE.slice(0, 2), /--longitude: found a hive without longitude/],
    [
      'an unknown time zone',
      row('5', good),
      [...HIVE.slice(0, 4), '--time-zone', 'Middle/Earth'],
      /--time-zone: found the time zone "Middle\/Earth"/,
    ],
    [
      'two bees in one dance',
      'dance_id,bee_id,comb_angle_deg,start_time\nd1,a,5,2025-06-14T09:30:00\nd1,b,5,\n',
      HIVE,
      /row 3, column bee_id: found "b" for dance d1, but "a" in row 2/,
    ],
  ])('%s', async (name, content, hive, wanted) => {
    const observations = await put(`bad, ${name}.csv`, content);
    const out = at(`never, ${name}.csv`);
    expect(await refusal('bearing', '--observations', observations, ...hive, '--out', out)).toMatch(wanted);
    expect((await readdir(at('.'))).filter((file) => /never|\.tmp$/.test(file))).toEqual([]);
  });

  test.each([
    [
      'latitude 91',
      '{"hive":{"latitude":91,"longitude":11}}',
      /study\.json, hive\.latitude: found 91; wanted degrees north/,
    ],
    [
      'a hive without coordinates',
      '{"hive":{"latitude":null,"longitude":null}}',
      /found a hive without latitude/,
    ],
    ['text in a number', '{"hive":{"latitude":"north"}}', /study\.json, hive\.latitude: found/],
    ['no JSON', 'hive: 48', /study\.json: found text that is not JSON/],
  ])('in study.json: %s', async (name, content, wanted) => {
    await mkdir(at(`study of ${name}`), { recursive: true });
    await put(`study of ${name}/study.json`, content);
    const observations = await put(`angles for ${name}.csv`, row('5', good));
    expect(
      await refusal('bearing', '--observations', observations, '--study', at(`study of ${name}`)),
    ).toMatch(wanted);
  });

  test.each([
    [
      'at distance 0',
      'feeder_id,distance_m,bearing_deg\nf1,0,90\n',
      /row 2, column distance_m: found "0"; wanted metres above 0/,
    ],
    [
      'at the hive',
      'feeder_id,latitude,longitude\nf1,48,11\n',
      /row 2, column latitude: found feeder f1 at distance 0/,
    ],
    [
      'without a place',
      'feeder_id,distance_m,bearing_deg\nf1,,90\n',
      /row 2, column distance_m: found an empty cell/,
    ],
    [
      'with half a place',
      'feeder_id,latitude,longitude\nf1,48.1,\n',
      /row 2, column longitude: found an empty cell/,
    ],
    ['off the earth', 'feeder_id,latitude,longitude\nf1,91,11\n', /row 2, column latitude: found "91"/],
    [
      'twice',
      'feeder_id,distance_m\nf1,100\nf1,200\n',
      /row 3, column feeder_id: found feeder f1 a second time/,
    ],
    [
      'that is not the dance’s',
      'feeder_id,distance_m\nf2,100\n',
      /row 2, column feeder_id: found feeder "f1", which is not in the table/,
    ],
  ])('a feeder %s', async (name, content, wanted) => {
    const feeders = await put(`feeders ${name}.csv`, content);
    const observations = await put(
      `angles to ${name}.csv`,
      'dance_id,feeder_id,comb_angle_deg,start_time\nd1,f1,5,2025-06-14T09:30:00\n',
    );
    expect(await refusal('bearing', '--observations', observations, ...HIVE, '--feeders', feeders)).toMatch(
      wanted,
    );
  });

  test('in one line, with exit 2', async () => {
    const observations = await put('left.csv', row('left', good));
    expectRefused(
      await combtone('bearing', '--observations', observations, ...HIVE),
      /row 2, column comb_angle_deg: found "left"; wanted a number/,
    );
  });
});
