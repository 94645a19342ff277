import { spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import { once } from 'node:events';
import { existsSync } from 'node:fs';
import { cp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { beforeAll, describe, expect, test, vi } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { migrations } from '../../src/study/store/migrations/index.ts';
import { openStore } from '../../src/study/store/open-store.ts';
import { stateNow } from '../../src/study/store/state.ts';
import { initStudy, newSettings, openStudy } from '../../src/study/study-folder.ts';
import { combtone, expectRefused, MAIN, temporaryFolder } from '../cli/run-combtone.ts';
import { detect, knownRecording, train } from '../study/made-study.ts';
import { copyOf, mayMount, roomIn, smallDisk, studyCommand, tamper } from './faulty-study.ts';

vi.setConfig({ testTimeout: 120_000 });

const at = temporaryFolder();
let study = '';

/** Steps that rewrite all that is there, so that they take a while. */
const known = [
  ...migrations,
  `ALTER TABLE sounds ADD COLUMN loudness_db REAL;
   UPDATE sounds SET loudness_db = snr_db - 40;`,
  `CREATE TABLE ballast (bytes BLOB) STRICT;
   WITH RECURSIVE n (k) AS (SELECT 1 UNION ALL SELECT k + 1 FROM n WHERE k < 40)
   INSERT INTO ballast SELECT randomblob(200000) FROM n;
   UPDATE dances SET note = 'seen';`,
];

const copyName = `study.sqlite.before-version-${known.length}`;

beforeAll(async () => {
  study = at('study');
  await initStudy(study, newSettings('faults'));
  const { store } = await openStudy(study);
  const trains = Array.from({ length: 1500 }, (_, k) => train(2 * k, 2 * k + 1, Math.floor(k / 10)));
  detect(store, knownRecording(store, { durationS: 3000 }).id, trains);
  store.close();
});

const pathIn = (folder: string) => join(folder, 'study.sqlite');
const copiesIn = async (folder: string) =>
  (await readdir(folder)).filter((name) => name.startsWith('study.sqlite.before')).sort();

/** All that a store holds before those steps, as a hash. */
function contents(path: string, asItIs = false): string {
  const store = openStore(path, { readOnly: true, asItIs });
  const hash = createHash('sha256');
  for (const table of [
    'recordings',
    'detections',
    'detected_sounds',
    'events',
    'dances',
    'sounds',
    'id_counters',
  ]) {
    hash.update(JSON.stringify(store.prepare(`SELECT * FROM ${table} ORDER BY 1, 2`).all()));
  }
  store.close();
  return hash.digest('hex');
}

const contentsOfFirst = (path: string) => contents(path, true);

const bytesOf = async (path: string) =>
  createHash('sha256')
    .update(await readFile(path))
    .digest('hex');

describe('before a store is brought up to date', () => {
  test('it is copied beside itself, and the copy opens as the study that it was', async () => {
    const folder = await copyOf(study, 'copied');
    const before = contents(pathIn(folder));
    openStore(pathIn(folder), { known }).close();
    expect(await copiesIn(folder)).toEqual([copyName]);
    expect(contents(join(folder, copyName))).toEqual(before);
    // Up to date, it is not copied again.
    openStore(pathIn(folder), { known }).close();
    expect(await copiesIn(folder)).toHaveLength(1);
    // The way back: the copy in the store's place.
    await cp(join(folder, copyName), pathIn(folder));
    expect(contents(pathIn(folder))).toEqual(before);
  });

  test('a copy that is there already is kept; the same once more is not made', async () => {
    const folder = await copyOf(study, 'kept');
    const other = join(folder, copyName);
    await writeFile(other, 'another copy');
    const failing = [...known.slice(0, -1), 'CREATE TABLE recordings (a TEXT)'];
    for (let k = 0; k < 3; k++) {
      expect(() => openStore(pathIn(folder), { known: failing })).toThrow(/already exists/);
    }
    expect(await copiesIn(folder)).toEqual([copyName, `${copyName}-2`]);
    expect(await readFile(other, 'utf8')).toBe('another copy');
    openStore(pathIn(folder)).close();
  });

  test('a new study is not copied, and one read only is neither copied nor brought up to date', async () => {
    expect(await copiesIn(study)).toEqual([]);
    const folder = await copyOf(study, 'older');
    const before = await bytesOf(pathIn(folder));
    expect(() => openStore(pathIn(folder), { known, readOnly: true })).toThrow(
      `a store of version ${migrations.length}, made by an older combtone; wanted version ${known.length}: combtone study status brings it`,
    );
    openStore(pathIn(folder), { known, readOnly: true, asItIs: true }).close();
    expect(await copiesIn(folder)).toEqual([]);
    expect(await bytesOf(pathIn(folder))).toEqual(before);
  });

  test.skipIf(!mayMount)(
    'where there is no room for the copy, nothing is changed (needs leave to mount)',
    async () => {
      const folder = at('full');
      // Room for the store and a little more, not for two of them.
      smallDisk(folder, 4 * 2 ** 20);
      for (const name of ['study.json', 'study.sqlite']) await cp(join(study, name), join(folder, name));
      const before = contents(pathIn(folder));
      await writeFile(join(folder, 'filler'), Buffer.alloc(roomIn(folder) - 400_000));
      expect(() => openStore(pathIn(folder), { known })).toThrow(/full|disk I\/O/);
      expect(await copiesIn(folder)).toEqual([]);
      expect(contents(pathIn(folder))).toEqual(before);
      await rm(join(folder, 'filler'));
    },
  );
});

const OPEN = `
  import { openStore } from ${JSON.stringify(new URL('../study/store/open-store.js', `file://${MAIN}`).href)};
  openStore(process.argv[1], { known: JSON.parse(process.argv[2]) }).close();
`;

test('killed at any moment of being brought up to date, a store is as it was or as it will be', async () => {
  const rounds = Number(process.env.COMBTONE_KILLS ?? 6);
  const random = seededRandom(11);
  const before = contents(pathIn(study));
  let cutShort = 0;
  for (let k = 0; k < rounds; k++) {
    const folder = await copyOf(study, `killed-${k}`);
    const args = ['--input-type=module', '-e', OPEN, pathIn(folder), JSON.stringify(known)];
    const child = spawn(process.execPath, args, { stdio: ['ignore', 'ignore', 'inherit'] });
    const ended = once(child, 'exit');
    // From when it begins: the copy is the first that is seen of it.
    while (child.exitCode === null && (await copiesIn(folder)).length === 0) await sleep(2);
    await Promise.race([sleep(150 * random.uniform()), ended]);
    child.kill('SIGKILL');
    await ended;
    const version = tamper(folder, (store) => store.pragma('user_version', { simple: true }) as number);
    expect([migrations.length, known.length]).toContain(version);
    if (version === migrations.length) {
      cutShort++;
      expect(contents(pathIn(folder))).toEqual(before);
    }
    // Whatever was left behind, the next opening does it; one whole copy is there, and no half one.
    const store = openStore(pathIn(folder), { known });
    expect(store.pragma('integrity_check', { simple: true })).toBe('ok');
    expect(stateNow(store).sounds.size).toBe(1500);
    store.close();
    expect(await copiesIn(folder)).toEqual([copyName]);
    expect(contents(join(folder, copyName))).toEqual(before);
    await rm(folder, { recursive: true });
  }
  expect(cutShort).toBeGreaterThan(0);
});

test('two processes that open an older store at once bring it up to date once', async () => {
  const folder = await copyOf(study, 'at-once');
  const ends = [0, 1, 2].map(() => {
    const args = ['--input-type=module', '-e', OPEN, pathIn(folder), JSON.stringify(known)];
    return once(spawn(process.execPath, args, { stdio: ['ignore', 'ignore', 'inherit'] }), 'exit');
  });
  expect(await Promise.all(ends)).toEqual([0, 1, 2].map(() => [0, null]));
  expect(await copiesIn(folder)).toEqual([copyName]);
});

test('a study of the first version is copied, brought up to date by a command, and sound', async () => {
  const folder = at('first');
  await initStudy(folder, newSettings('first'));
  for (const end of ['', '-wal', '-shm']) await rm(`${pathIn(folder)}${end}`, { force: true });
  const first = openStore(pathIn(folder), { create: true, known: migrations.slice(0, 1) });
  detect(first, knownRecording(first).id, [train(1, 2, 0), train(4, 5, 0)]);
  first.close();
  const before = contentsOfFirst(pathIn(folder));
  const { code, stdout } = await studyCommand('status', folder);
  expect(code).toBe(0);
  expect(stdout).toMatch(/1 recording,/);
  const copies = migrations.length > 1 ? [`study.sqlite.before-version-${migrations.length}`] : [];
  expect(await copiesIn(folder)).toEqual(copies);
  for (const name of copies) expect(contentsOfFirst(join(folder, name))).toEqual(before);
  expect((await studyCommand('check', folder)).code).toBe(0);
});

test('a study of a newer combtone is refused in words by every command, and left as it is', async () => {
  const folder = await copyOf(study, 'newer');
  tamper(folder, (store) => store.pragma('user_version = 99'));
  const before = await bytesOf(pathIn(folder));
  const calls = [
    ['study', 'status', folder],
    ['detect', '--study', folder],
    ['review', '--study', folder, '--no-open'],
    ['report', '--study', folder, '--out', at('newer.html')],
  ];
  for (const ran of await Promise.all(calls.map((call) => combtone(...call)))) {
    expectRefused(
      ran,
      /study\.sqlite: found a store of version 99, made by a newer combtone; wanted version \d+/,
    );
  }
  const newer = /study\.sqlite: found a store of version 99, made by a newer combtone/;
  await expect(studyCommand('check', folder)).rejects.toThrow(newer);
  await expect(studyCommand('backup', folder, '--out', at('newer-backup'))).rejects.toThrow(newer);
  expect(existsSync(at('newer-backup'))).toBe(false);
  expect(await bytesOf(pathIn(folder))).toEqual(before);
  const settings = await readFile(join(folder, 'study.json'), 'utf8');
  await writeFile(join(folder, 'study.json'), settings.replace('"formatVersion": 1', '"formatVersion": 2'));
  await expect(studyCommand('status', folder)).rejects.toThrow(
    /formatVersion: found 2, from a newer combtone/,
  );
});
