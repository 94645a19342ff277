import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { InputError } from '../../src/input-error.ts';
import { type Random, seededRandom } from '../../src/random.ts';
import { type CalibrationRecord, readCalibration } from '../../src/study/calibration-record.ts';
import { studyArrivals } from '../../src/study/day/arrivals.ts';
import { estimates } from '../../src/study/estimates.ts';
import { readFeeders } from '../../src/study/feeders.ts';
import { type ObservedDance, readObservations } from '../../src/study/observations.ts';
import { likelyFeederFinder, readOpenings } from '../../src/study/openings.ts';
import { calibrateDances } from '../../src/study/study-calibration.ts';
import { newSettings, type OpenStudy, openStudy } from '../../src/study/study-folder.ts';

/** Tables and JSON that mean harm end in a result or in one line that says what is wrong, and soon. */

let folder = '';
// Columns that are not read are named on stderr, and here that is most of them.
beforeAll(() => void vi.spyOn(process.stderr, 'write').mockReturnValue(true));
afterAll(() => vi.restoreAllMocks());
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-hostile-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));
const at = (name: string) => join(folder, name);

/** The result, or null where it was refused as it should be. */
async function ending<T>(action: () => Promise<T>): Promise<T | null> {
  try {
    return await action();
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    expect(error.message).not.toMatch(/[\n\r]/);
    expect(error.message.length).toBeLessThan(3000);
    return null;
  }
}

const cells = [
  '1e308',
  '-1e308',
  '1e309',
  '1e-320',
  'NaN',
  '-Infinity',
  '-0',
  '0x1f',
  '9007199254740993',
  '__proto__',
  'constructor',
  'toString',
  '=1+1',
  '+1+1',
  '-1+1',
  '@SUM(A1)',
  '"=cmd|\' /C calc\'!A0"',
  '""',
  '"',
  '\0',
  '\u202e',
  '',
  '99999-01-01T00:00:00',
  '2031-06-14T25:61:00',
  '2031-06-14T09:00:00+99:99',
  '<script>alert(1)</script>',
  'x'.repeat(20_000),
];

function spoilt(table: string, random: Random): string {
  const rows = table
    .trim()
    .split('\n')
    .map((line) => line.split(','));
  for (let count = 1 + random.below(3); count > 0; count--) {
    const row = rows[random.below(10) === 0 ? 0 : random.below(rows.length)]!;
    row[random.below(row.length)] = cells[random.below(cells.length)]!;
  }
  return `${rows.map((row) => row.join(',')).join('\n')}\n`;
}

const observations = `bee_id,dance_id,distance_m,duration_s,circuits_per_15s,treatment
${[200, 500, 900].flatMap((far, k) => ['a', 'b'].flatMap((bee) => [0, 1, 2].map((run) => `${bee},d${k}${bee},${far},${(0.2 + 0.001 * far + 0.01 * run).toFixed(2)},,`))).join('\n')}
`;
const feeders =
  'feeder_id,distance_m,bearing_deg,latitude,longitude,paint_mark\nreed,150,10,,,white\nalder,,,51.2,9.4,\n';
const openings =
  'feeder_id,start,end\nreed,2031-06-14T09:00:00,2031-06-14T10:00:00\nalder,2031-06-14T10:00:00+02:00,2031-06-14T11:00:00+02:00\n';
const arrivals = 'time,feeder_id,mark\n2031-06-14T09:30:00,reed,\n2031-06-14T10:30:00+02:00,alder,white\n';
/** arrivals.csv is read as a table of a study. */
async function readArrivals(path: string) {
  const settings = newSettings('hostile');
  const study = {
    folder: dirname(path),
    settings: { ...settings, hive: { ...settings.hive, timeZone: 'Europe/Berlin' } },
  };
  return studyArrivals(study as OpenStudy, ['reed', 'alder', '__proto__', 'constructor']);
}
const readers: Readonly<Record<string, { table: string; read: (path: string) => Promise<unknown> }>> = {
  'observations.csv': { table: observations, read: (path) => readObservations(path, 'calibrating') },
  'feeders.csv': {
    table: feeders,
    read: (path) => readFeeders(path, { latitudeDeg: 51.2, longitudeDeg: 9.4 }),
  },
  'arrivals.csv': { table: arrivals, read: readArrivals },
  'openings.csv': {
    table: openings,
    read: async (path) => {
      const read = await readOpenings(path, ['reed', 'alder', '__proto__', 'constructor'], 'Europe/Berlin');
      likelyFeederFinder(read, '2031-06-14T09:30:00', 'Europe/Berlin')(0, 10);
      return read;
    },
  },
};

describe.each(Object.keys(readers))('%s', (name) => {
  const { table, read } = readers[name]!;

  test('with hostile cells', async () => {
    const random = seededRandom(31);
    let good = 0;
    for (let k = 0; k < 400; k++) {
      await writeFile(at(name), spoilt(table, random));
      if ((await ending(() => read(at(name)))) !== null) good++;
    }
    expect(good).toBeGreaterThan(5);
    expect(good).toBeLessThan(395);
  });

  test.each([
    ['a line of two million letters', (text: string) => text + 'x'.repeat(2_000_000)],
    ['a quote that never ends', (text: string) => `${text}"${'x,\n'.repeat(600_000)}`],
    ['a hundred thousand columns', (text: string) => `${'a,'.repeat(100_000)}b\n${text}`],
    ['a column __proto__', (text: string) => text.replace(/(?:dance|feeder)_id/, '__proto__')],
    ['bytes that are no text', () => '\xff\xfe\0\0'.repeat(1000)],
  ])('with %s is refused soon', async (_, make) => {
    await writeFile(at(name), make(table), 'latin1');
    const began = performance.now();
    expect(await ending(() => read(at(name)))).toBeNull();
    expect(performance.now() - began).toBeLessThan(4000);
  });

  test('a million empty lines are no rows', async () => {
    await writeFile(at(name), table + '\n'.repeat(1_000_000));
    const began = performance.now();
    expect(await ending(() => read(at(name)))).not.toBeNull();
    expect(performance.now() - began).toBeLessThan(4000);
  });
});

test('bees and dances named like parts of every object are bees and dances', async () => {
  const named = observations.replaceAll(/^a,/gm, '__proto__,').replaceAll(/^b,/gm, 'constructor,');
  await writeFile(at('named.csv'), named.replaceAll('d0a', '__proto__').replaceAll('d0b', 'hasOwnProperty'));
  const { dances } = await readObservations(at('named.csv'), 'calibrating');
  expect(dances).toHaveLength(6);
  const record = calibrateDances(dances, { curve: 'line', runs: 'all' });
  const told = estimates(record, dances, 0.95).map(({ row }) => row);
  await writeFile(at('plain.csv'), observations);
  const plain = (await readObservations(at('plain.csv'), 'calibrating')).dances;
  const wanted = estimates(calibrateDances(plain, { curve: 'line', runs: 'all' }), plain, 0.95);
  const figures = (row: object) => ({ ...row, bee_id: null, dance_id: null });
  expect(told.map(figures)).toEqual(wanted.map(({ row }) => figures(row)));
  expect(told.map(({ dance_id }) => dance_id)).toContain('__proto__');
});

describe('calibration.json', () => {
  const dance = (durationS: number, beeId: string | null = null): ObservedDance => ({
    danceId: 'd',
    beeId,
    distanceM: null,
    treatment: null,
    durationsS: [durationS, durationS, durationS],
    circuitsPer15s: [null, null, null],
  });
  let record: CalibrationRecord;
  beforeAll(async () => {
    await writeFile(at('calibrating.csv'), observations);
    const { dances } = await readObservations(at('calibrating.csv'), 'calibrating');
    const whole = calibrateDances(dances, { curve: 'line', runs: 'all' });
    // A few draws do to be read by.
    record = {
      ...whole,
      duration: { ...whole.duration!, draws: whole.duration!.draws.slice(0, 10) },
      tempo: null,
      correlation: null,
    };
  });

  test('with hostile numbers is refused, or tells distances that are numbers or none', async () => {
    const text = JSON.stringify(record);
    const places = [...text.matchAll(/(?<=[:[,])-?\d[\d.e+-]*(?=[,\]}])/g)];
    const values = [
      '1e308',
      '-1e308',
      '1e309',
      '1e-320',
      '0',
      '-1',
      'null',
      '"1"',
      '[]',
      '{"__proto__":{"x":1}}',
      '9007199254740993',
    ];
    const random = seededRandom(7);
    let read = 0;
    for (let k = 0; k < 150; k++) {
      const place = places[random.below(places.length)]!;
      const value = values[random.below(values.length)]!;
      const changed = text.slice(0, place.index) + value + text.slice(place.index + place[0].length);
      await writeFile(at('calibration.json'), changed);
      const spoiltRecord = await ending(() => readCalibration(at('calibration.json')));
      if (spoiltRecord === null) continue;
      read++;
      for (const { row } of estimates(
        spoiltRecord,
        [dance(0.7), dance(0.7, 'a'), dance(1e-9), dance(60)],
        0.95,
      )) {
        const where = `${text.slice(place.index - 60, place.index)}${value}: ${JSON.stringify(row)}`;
        for (const told of [row.distance_m, row.distance_low_m, row.distance_high_m]) {
          expect(told === null || (Number.isFinite(told) && told >= 0 && told <= 12_000), where).toBe(true);
        }
      }
    }
    expect(read).toBeGreaterThan(20);
    expect(({} as { x?: number }).x).toBeUndefined();
  });

  test.each([
    ['nothing', ''],
    ['a nest of a hundred thousand lists', `${'['.repeat(100_000)}${']'.repeat(100_000)}`],
    [
      'a nest in the record',
      `{"formatVersion":2,"duration":${'{"a":'.repeat(50_000)}1${'}'.repeat(50_000)}}`,
    ],
    ['fifty million letters', JSON.stringify('x'.repeat(50_000_000))],
    [
      'a million draws of nothing',
      `{"format":"combtone calibration","draws":[${'[],'.repeat(1_000_000)}[]]}`,
    ],
    ['keys that all objects have', '{"__proto__":{"format":"combtone calibration"},"constructor":{}}'],
  ])('that is %s is refused soon', async (_, text) => {
    await writeFile(at('odd.json'), text);
    const began = performance.now();
    expect(await ending(() => readCalibration(at('odd.json')))).toBeNull();
    expect(performance.now() - began).toBeLessThan(4000);
  });
});

test.each([
  ['a nest', `${'['.repeat(100_000)}`],
  ['a key that all objects have', '{"format":"combtone study","__proto__":{"readOnly":true}}'],
  ['numbers beyond all', '{"format":"combtone study","formatVersion":1e308}'],
])('a study.json that is %s is refused', async (name, text) => {
  const place = at(`study ${name}`);
  await rm(place, { recursive: true, force: true });
  await mkdir(place);
  await writeFile(join(place, 'study.json'), text);
  await writeFile(join(place, 'study.sqlite'), '');
  expect(await ending(() => openStudy(place))).toBeNull();
});
