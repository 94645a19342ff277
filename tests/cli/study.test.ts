import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { copyFile, mkdir, readdir, readFile, rename, writeFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, onTestFinished, test } from 'vitest';
import { writeWave } from '../../src/recording/index.ts';
import { simulateHive } from '../../src/simulate/index.ts';
import { combtone, expectRefused, temporaryFolder } from './run-combtone.ts';

const at = temporaryFolder();
let hive = '';

beforeAll(async () => {
  const { recordingPath } = await simulateHive(at('in'), 'hive', {
    seed: 8101,
    lengthS: 60,
    snrDb: 12,
    dancesPerHour: 300,
    startTime: '2031-06-14T09:30:00',
  });
  hive = recordingPath;
});

async function done(...args: string[]): Promise<string> {
  const ran = await combtone(...args);
  expect(ran).toMatchObject({ code: 0, stderr: '' });
  return ran.stdout;
}

async function json<T>(...args: string[]): Promise<T> {
  return JSON.parse(await done(...args, '--json')) as T;
}

interface Status {
  readonly recordings: readonly {
    readonly path: string;
    readonly present: boolean;
    readonly progress: { readonly sounds: number };
  }[];
  readonly conflicts: readonly string[];
}

describe('combtone study', () => {
  test('init makes a folder of four files, once', async () => {
    const study = at('made');
    const words = await done('study', 'init', study, '--latitude', '51.2', '--time-zone', 'Europe/Berlin');
    expect(words).toMatch(/study\.json, feeders\.csv, openings\.csv, study\.sqlite/);
    expect((await readdir(study)).sort()).toEqual([
      'feeders.csv',
      'openings.csv',
      'study.json',
      'study.sqlite',
    ]);
    const settings = JSON.parse(await readFile(`${study}/study.json`, 'utf8'));
    expect(settings).toMatchObject({ name: 'made', hive: { latitude: 51.2, timeZone: 'Europe/Berlin' } });
    const before = await readFile(`${study}/study.json`, 'utf8');
    expectRefused(await combtone('study', 'init', study), /made: found a study \(study\.json\)/);
    expect(await readFile(`${study}/study.json`, 'utf8')).toBe(before);
  });

  test('wrong words are refused before anything is made', async () => {
    expectRefused(await combtone('study', 'init', at('x'), '--latitude', '91'), /--latitude: found "91"/);
    expectRefused(
      await combtone('study', 'init', at('x'), '--time-zone', 'Moon'),
      /--time-zone: found "Moon"/,
    );
    expectRefused(await combtone('study', 'status', at('x')), /no study\.json in it/);
    expectRefused(await combtone('detect', '--study', at('x')), /no study\.json in it/);
    expectRefused(await combtone('detect'), /recordings: found none; wanted sound files, or --study/);
    expectRefused(await combtone('review', '--study', at('x'), '--port', '99999'), /--port: found "99999"/);
    expect(await readdir(at('.'))).not.toContain('x');
  });

  test('a recording is added, detected once, found again when moved, and shown by status', async () => {
    const study = at('whole');
    await done('study', 'init', study);
    const inside = `${study}/recordings`;
    await mkdir(inside);
    await copyFile(hive, `${inside}/hive.wav`);
    await writeFile(at('no.wav'), 'words');
    // One bad recording does not keep the others out.
    const added = await combtone('study', 'add', study, at('no.wav'), `${inside}/hive.wav`);
    expect(added).toMatchObject({ code: 2, stdout: 'recordings/hive.wav: added\n' });
    expect(added.stderr).toMatch(/no\.wav: found/);
    expect(await done('study', 'add', study, hive)).toBe('recordings/hive.wav: known already\n');

    const detectJson = async (...more: string[]) => {
      type Told = { detected: { changes: Record<'new' | 'same' | 'gone' | 'kept', number> }[] };
      return (await json<Told>('detect', '--study', study, ...more)).detected[0]!.changes;
    };
    const certain = await detectJson('--confidence', '0.999');
    const changes = await detectJson();
    expect(changes).toMatchObject({ same: certain.new, gone: 0, kept: 0 });
    expect(changes.new).toBeGreaterThan(3);
    expect(await done('detect', '--study', study)).toMatch(/^0 recordings detected, 1 had been/);

    await rename(`${inside}/hive.wav`, `${study}/moved.wav`);
    await writeFile(`${study}/feeders.csv`, 'feeder_id,distance_m\nreed,150\nalder,350\n');
    const span = '2031-06-14T09:00:00,2031-06-14T10:00:00';
    await writeFile(`${study}/openings.csv`, `feeder_id,start,end\nreed,${span}\nalder,${span}\n`);
    const status = await json<Status>('study', 'status', study);
    expect(status.recordings).toMatchObject([
      { path: 'moved.wav', present: true, progress: { sounds: changes.new + changes.same } },
    ]);
    expect(status.conflicts[0]).toMatch(/^hive-d\d{4} \(reed or alder\)$/);
    await rename(`${study}/moved.wav`, at('away.wav'));
    expect(await done('study', 'status', study)).toMatch(/moved\.wav +MISSING/);
    const lost = await combtone('detect', '--study', study, '--band', '180-400');
    expectRefused(lost, /moved\.wav: found no such recording.*wanted the file that was added/);
    expect(await done('study', 'add', study, at('away.wav'))).toMatch(/away\.wav: known, now here/);
  });
});

describe('combtone study add --start', () => {
  const twoBlanks = async (name: string) => {
    const study = at(name);
    await done('study', 'init', study);
    const files = ['one.wav', 'two.wav'].map((file) => `${study}/${file}`);
    for (const [k, file] of files.entries()) {
      const samples = Float32Array.from({ length: 8000 }, (_, n) => 0.1 * Math.sin(n * n + k));
      await writeWave(file, { sampleRateHz: 8000, encoding: 'pcm16', channels: [samples] });
    }
    return { study, files };
  };

  test('sets the start of a recording that is known, and says what was and is', async () => {
    const { study, files } = await twoBlanks('late');
    const add = (...more: string[]) => done('study', 'add', study, files[0]!, ...more);
    expect(await add()).toBe('one.wav: added\n');
    expect(await add('--start', '2031-06-14T09:00')).toBe(
      'one.wav: known already; start set to 2031-06-14T09:00:00\n',
    );
    const corrected = await combtone('study', 'add', study, files[0]!, '--start', '2031-06-14T10:00');
    expect(corrected.stdout).toBe(
      'one.wav: known already; start corrected from 2031-06-14T09:00:00 to 2031-06-14T10:00:00\n',
    );
    expect(await done('study', 'status', study)).toMatch(/one\.wav .* 2031-06-14T10:00:00 /);
  });

  test('of several says that all start at once', async () => {
    const { study, files } = await twoBlanks('at once');
    const added = await combtone('study', 'add', study, ...files, '--start', '2031-06-14T09:00');
    expect(added).toMatchObject({
      code: 0,
      stderr:
        'combtone: warning: 2 recordings start at 2031-06-14T09:00:00 now (one.wav, two.wav); ' +
        'where they follow one another, give each its own --start, one at a time\n',
    });
  });
});

test('combtone review prints an address, serves there, and ends when asked to', async () => {
  const study = at('served');
  await done('study', 'init', study);
  const main = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url));
  const child = spawn(process.execPath, [main, 'review', '--study', study, '--no-open', '--read-only']);
  onTestFinished(() => void child.kill('SIGKILL'));
  const [line] = (await once(child.stdout, 'data')) as [Buffer];
  expect(String(line)).toMatch(/^http:\/\/127\.0\.0\.1:\d+\/\?token=[\w-]{32}\n$/);
  const { origin, searchParams } = new URL(String(line));
  const headers = { authorization: `Bearer ${searchParams.get('token')}` };
  const told = await (await fetch(`${origin}/api/study`, { headers })).json();
  expect(told).toMatchObject({ readOnly: true, settings: { name: 'served' }, recordings: [] });
  const port = new URL(origin).port;
  const taken = await combtone('review', '--study', study, '--no-open', '--port', port);
  expectRefused(taken, new RegExp(`--port: found ${port}, which something else listens on`));
  child.kill('SIGTERM');
  expect(await once(child, 'exit')).toEqual([0, null]);
});
