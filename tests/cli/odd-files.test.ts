import { chmod, copyFile, mkdir, readFile, writeFile } from 'node:fs/promises';
import { parse } from 'csv-parse/sync';
import { beforeAll, describe, expect, test } from 'vitest';
import { simulateHive } from '../../src/simulate/index.ts';
import { readTable } from '../../src/study/csv.ts';
import { trainSchema } from '../../src/study/tables.ts';
import { combtone, expectRefused, MAIN, type Ran, run, temporaryFolder } from './run-combtone.ts';

const at = temporaryFolder();
const loud = { seed: 8101, snrDb: 15, dancesPerHour: 600 };
let hive = '';

beforeAll(async () => {
  const { recordingPath } = await simulateHive(at('in'), 'hive', { ...loud, lengthS: 30 });
  hive = recordingPath;
});

const warningsOf = ({ stderr }: Ran) => stderr.split('\n').filter((line) => line !== '');

const NAMES = [
  'with spaces (1).wav',
  "quote\"s and 'apostrophes'.wav",
  'line\nbreak.wav',
  'tab\tand return\r.wav',
  '=SUM(A1)+1.wav',
  '-n.wav',
  '蜂の巣 ñandú Größe.wav',
  'خلية.wav',
  '🐝.wav',
  '%s %d $x `id`.wav',
];

describe('names of every kind', () => {
  test('stand in tables as they are, and in text on one line each', async () => {
    await mkdir(at('odd'));
    const paths = NAMES.map((name) => at(`odd/${name}`));
    const { recordingPath } = await simulateHive(at('in'), 'short', { ...loud, lengthS: 12 });
    const sound = await readFile(recordingPath);
    for (const [index, path] of paths.entries()) {
      // Each has other bytes, so that none is taken for another.
      const bytes = Buffer.from(sound);
      bytes.writeInt16LE(index + 1, 44);
      await writeFile(path, bytes);
    }
    const out = at('odd out\n"here"');
    const ran = await combtone('detect', ...paths, '--out', out);
    expect(ran).toMatchObject({ code: 0, stderr: '' });
    const trains = (await readTable(`${out}/trains.csv`, trainSchema)).map(({ row }) => row.recording);
    expect([...new Set(trains)]).toEqual(NAMES);
    // One line for each recording, and for each of its channels.
    expect(ran.stdout).toContain('line\\nbreak.wav');
    expect(ran.stdout.split('\n').filter((line) => line.includes('🐝.wav'))).toHaveLength(2);
    const csv = await readFile(`${out}/trains.csv`, 'utf8');
    const cells = (parse(csv) as string[][]).slice(1).flat();
    expect(cells.filter((cell) => /^[=+@-]/.test(cell) && Number.isNaN(Number(cell)))).toEqual([]);
    expect(csv).toContain("'=SUM(A1)+1.wav");
  });

  test('an error stays on one line, whatever the name', async () => {
    expectRefused(
      await combtone('detect', at('no\nsuch\r\u2028file\u001b[31m.wav')),
      /no\\nsuch\\r\\u2028file\\u001b\[31m\.wav/,
    );
    expectRefused(await combtone('detect', '--band', '1\n2', hive), /--band: found "1\\n2"/);
    expectRefused(await combtone('de\ntect'), /de\\ntect/);
  });

  test('a study takes them', async () => {
    const study = at('study of\nnames');
    expect((await combtone('study', 'init', study)).code).toBe(0);
    await copyFile(hive, at('new\nline ‮.wav'));
    const added = await combtone('study', 'add', study, at('new\nline ‮.wav'));
    expect(added).toMatchObject({ code: 0, stderr: '' });
    expect(added.stdout).toBe('../new\\nline \\u202e.wav: added\n');
    const detected = await combtone('detect', '--study', study);
    expect(detected.code).toBe(0);
    expect(detected.stdout).toContain('new\\nline');
    const again = await combtone('study', 'add', study, hive);
    expect(again.stdout).toBe(`${hive}: known already, as ../new\\nline \\u202e.wav\n`);
  });
});

test('the same bytes under two names are detected once, and that is said', async () => {
  await copyFile(hive, at('copy.wav'));
  const ran = await combtone('detect', hive, at('copy.wav'), '--json');
  expect(ran.code).toBe(0);
  expect(JSON.parse(ran.stdout).recordings).toHaveLength(1);
  expect(warningsOf(ran)).toEqual([
    `combtone: warning: ${at('copy.wav')}: the same bytes as ${hive}: detected once`,
  ]);
});

test('files of one session are joined on the clock', async () => {
  const sound = await readFile(hive);
  const paths: string[] = [];
  for (const [index, time] of ['093000', '093030', '093112'].entries()) {
    const bytes = Buffer.from(sound);
    bytes.writeInt16LE(100 + index, 44);
    const path = at(`hive_20310614_${time}.wav`);
    await writeFile(path, bytes);
    paths.push(path);
  }
  const ran = await combtone('detect', ...paths.reverse(), '--json');
  expect(JSON.parse(ran.stdout).sessions).toMatchObject([
    { spanS: 102, joints: [{ gapS: 0 }, { gapS: 12 }] },
  ]);
  expect(warningsOf(ran)).toEqual([
    'combtone: warning: session of 3 recordings from 2031-06-14T09:30:00: one gap, 12.0 s between ' +
      'hive_20310614_093030.wav and hive_20310614_093112.wav; dances that go on across are cut in two (a study joins them where the gap is short)',
  ]);
});

test('in a study, a start at which the clocks changed is told', async () => {
  const study = at('clocks');
  await combtone('study', 'init', study, '--time-zone', 'Europe/Berlin');
  const path = at('hive_20310330_023000.wav');
  await copyFile(hive, path);
  const ran = await combtone('study', 'add', study, path);
  expect(ran.code).toBe(0);
  expect(warningsOf(ran)).toHaveLength(1);
  expect(ran.stderr).toContain('"2031-03-30T02:30:00", which does not exist in Europe/Berlin');
});

describe('folders that may not be read or written', () => {
  /**
   * As someone whom folders refuse. Root, as whom the tests may run, gives up what lets it pass them (setpriv is of
   * util-linux); another user could not read a program that lies in a folder of root's own.
   */
  const powerless = (...args: readonly string[]): Promise<Ran> =>
    process.getuid?.() === 0
      ? run('setpriv', '--bounding-set', '-dac_override,-dac_read_search', process.execPath, MAIN, ...args)
      : combtone(...args);

  test('are told in one line', async () => {
    await mkdir(at('shut'));
    await copyFile(hive, at('shut/hive.wav'));
    await chmod(at('shut'), 0o000);
    await mkdir(at('no-writing'), { mode: 0o555 });
    expectRefused(
      await powerless('detect', at('shut/hive.wav')),
      /hive\.wav: found a file that cannot be read \(EACCES\)/,
    );
    expectRefused(
      await powerless('detect', hive, '--out', at('no-writing/out')),
      /--out: found .*no-writing, which may not be written to/,
    );
    expectRefused(
      await powerless('detect', hive, '--out', at('shut/out')),
      /--out: found .*shut.* \(EACCES\)/,
    );
    expectRefused(
      await powerless('study', 'init', at('no-writing/study')),
      /found a folder that cannot be made \(EACCES\)/,
    );
    expectRefused(await powerless('detect', '--study', at('shut')), /study\.json: EACCES/);
    await chmod(at('shut'), 0o755);
  });

  test('beside a good recording, cost only themselves', async () => {
    const ran = await combtone('detect', hive, at('nowhere/at all.wav'), '--json');
    expect(ran.code).toBe(2);
    expect(JSON.parse(ran.stdout).recordings).toHaveLength(1);
    expect(warningsOf(ran)).toEqual([
      `combtone: ${at('nowhere/at all.wav')}: found no such file; wanted a sound file that may be read`,
    ]);
  });
});
