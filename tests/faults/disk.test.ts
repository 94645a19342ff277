import { spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { cp, mkdir, readdir, rm, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { beforeAll, describe, expect, test, vi } from 'vitest';
import { openStudy } from '../../src/study/study-folder.ts';
import { combtone, MAIN, type Ran, temporaryFolder } from '../cli/run-combtone.ts';
import { edit, now } from '../study/made-study.ts';
import {
  copyOf,
  done,
  eventCount,
  expectPlain,
  mayMount,
  readOnlyDisk,
  roomIn,
  shortRecordings,
  smallDisk,
  studyCommand,
  studyOf,
} from './faulty-study.ts';

vi.setConfig({ testTimeout: 120_000 });

const at = temporaryFolder();
let study = '';
let recordings: string[] = [];

beforeAll(async () => {
  recordings = await shortRecordings(at('rec'), 3);
  study = await studyOf(at('study'), recordings.slice(0, 2));
});

/** Runs the built command in a shell that lets no file grow beyond so many bytes. */
function combtoneWithin(bytes: number, ...args: string[]): Ran {
  const shell = `ulimit -f ${Math.floor(bytes / 1024)}; exec "$@"`;
  const ran = spawnSync('bash', ['-c', shell, 'bash', process.execPath, MAIN, ...args], { encoding: 'utf8' });
  return { code: ran.status ?? -1, stdout: ran.stdout, stderr: ran.stderr };
}

describe.skipIf(process.platform === 'win32')('files that may not grow (a limit of the shell)', () => {
  test('detecting, adding and backing up stop with a plain line; nothing is lost, and the next call goes on', async () => {
    const folder = await copyOf(study, 'limited');
    const before = eventCount(folder);
    const size = (await stat(join(folder, 'study.sqlite'))).size;
    expectPlain(
      combtoneWithin(8192, 'detect', '--study', folder),
      1,
      /disk (is full|could not be .* written)/,
    );
    expectPlain(combtoneWithin(1024, 'study', 'add', folder, recordings[2]!), 1, /was kept before stays/);
    expectPlain(
      combtoneWithin(size / 2, 'study', 'backup', folder, '--out', at('limited-backup')),
      1,
      /disk (is full|could not be .* written)/,
    );
    expect((await readdir(at('.'))).filter((name) => name.startsWith('limited-backup'))).toEqual([]);
    expect(eventCount(folder)).toBe(before);
    expect((await studyCommand('check', folder)).code).toBe(0);
    expect(await done('detect', '--study', folder)).toMatch(/^2 recordings detected, 0 had been/);
    expect(eventCount(folder)).toBe(before + 2);
  });
});

describe.skipIf(process.platform === 'win32')('a command that finds no room for what it writes', () => {
  const calls = (out: string): Record<string, readonly string[]> => ({
    export: ['export', '--study', study, '--out', join(out, 'tables')],
    'an excerpt': [
      'export',
      '--study',
      study,
      '--recording',
      'hive-001',
      '--excerpt',
      '1-5',
      '--out',
      join(out, 'a.wav'),
    ],
    report: ['report', '--study', study, '--out', join(out, 'report.html')],
    'detect without a study': ['detect', recordings[0]!, '--out', join(out, 'found')],
    simulate: ['simulate', '--out', out, '--minutes', '0.1', '--seed', '5'],
    backup: ['study', 'backup', study, '--out', join(out, 'backup')],
    'study init': ['study', 'init', join(out, 'new')],
  });

  test.each(Object.keys(calls('')))(
    '%s ends with one plain line and exit 1, and leaves nothing half-written',
    async (name) => {
      const out = at(`no room ${name}`);
      await mkdir(out);
      expectPlain(
        combtoneWithin(/study/.test(name) ? 0 : 1024, ...calls(out)[name]!),
        1,
        /the disk (is full|could not be)/,
      );
      const left = (await readdir(out, { recursive: true, withFileTypes: true })).filter((one) =>
        one.isFile(),
      );
      expect(left.map(({ name: file }) => file)).toEqual([]);
    },
  );
});

describe.skipIf(!mayMount)('a full disk (needs leave to mount)', () => {
  test('what was saved stays, what cannot be is told, and with room again the work goes on', async () => {
    const folder = at('full');
    smallDisk(folder, 3 * 2 ** 20);
    for (const name of await readdir(study)) await cp(join(study, name), join(folder, 'study', name));
    const inside = join(folder, 'study');
    await cp(at('rec'), join(folder, 'rec'), { recursive: true });
    const before = eventCount(inside);
    await writeFile(join(folder, 'filler'), Buffer.alloc(roomIn(folder)));
    expect(roomIn(folder)).toBe(0);
    const plain = /disk is full|disk could not be|cannot be written|ENOSPC|may not be/;
    expectPlain(await combtone('detect', '--study', inside), 1, plain);
    expectPlain(await combtone('study', 'add', inside, join(folder, 'rec', 'hive-003.wav')), 1, plain);
    const outside = (name: string) => ['--out', join(folder, name)];
    expectPlain(await combtone('study', 'backup', inside, ...outside('backup')), 1, plain);
    expectPlain(await combtone('export', '--study', study, ...outside('tables')), 1, plain);
    expectPlain(await combtone('report', '--study', study, ...outside('report.html')), 1, plain);
    await rm(join(folder, 'tables'), { recursive: true, force: true });
    expect((await readdir(folder)).sort()).toEqual(['filler', 'rec', 'study']);
    await rm(join(folder, 'filler'));
    expect(eventCount(inside)).toBe(before);
    expect((await studyCommand('check', inside)).code).toBe(0);
    expect(await done('detect', '--study', inside)).toMatch(/^2 recordings detected/);
    expect(eventCount(inside)).toBe(before + 2);
  });

  test('the review service tells an edit that it could not save, keeps those it did, and goes on', async () => {
    const folder = at('full-review');
    smallDisk(folder, 2 * 2 ** 20);
    for (const name of await readdir(study)) await cp(join(study, name), join(folder, name));
    const child = spawn(process.execPath, [MAIN, 'review', '--study', folder, '--no-open']);
    let said = '';
    child.stderr.on('data', (text) => {
      said += text;
    });
    try {
      const [line] = (await once(child.stdout, 'data')) as [Buffer];
      const { origin, searchParams } = new URL(line.toString().trim());
      const post = (requestId: string, id: string) =>
        fetch(`${origin}/api/edits`, {
          method: 'POST',
          headers: {
            authorization: `Bearer ${searchParams.get('token')}`,
            'content-type': 'application/json',
          },
          body: JSON.stringify({
            reviewer: 'ada',
            requestId,
            edit: { kind: 'accept', targets: [{ id, version: 1 }] },
          }),
        }).then(async (answer) => ({
          status: answer.status,
          body: (await answer.json()) as { message?: string },
        }));
      expect((await post('request-1', 'hive-001-t0001')).status).toBe(200);
      await writeFile(join(folder, 'filler'), Buffer.alloc(roomIn(folder)));
      // Pages that the log has already may be written again for a while.
      let refused = await post('request-2', 'hive-001-t0002');
      let saved = 1;
      for (let k = 3; refused.status === 200 && k < 10; k++) {
        saved++;
        refused = await post(`request-${k}`, `hive-001-t000${k}`);
      }
      expect(refused.status).toBe(503);
      expect(refused.body.message).toMatch(/disk is full|disk could not be/);
      expect(said).toMatch(/^(combtone: [^\n]*disk[^\n]*\n)+$/);
      await rm(join(folder, 'filler'));
      expect((await post(`request-${saved + 1}`, `hive-001-t000${saved + 1}`)).status).toBe(200);
      expect(eventCount(folder)).toBe(2 + saved + 1);
      expect(child.exitCode).toBe(null);
    } finally {
      child.kill('SIGKILL');
    }
  });
});

describe.skipIf(!mayMount)('a folder that may not be written to (needs leave to mount)', () => {
  test('a study in it is read all the same, and refuses to be written in plain words', async () => {
    const folder = await copyOf(study, 'read-only');
    for (const end of ['-wal', '-shm']) await rm(join(folder, `study.sqlite${end}`), { force: true });
    readOnlyDisk(folder);
    expect((await studyCommand('check', folder)).code).toBe(0);
    expect(await done('export', '--study', folder, '--out', at('read-only-tables'))).toMatch(
      /Written: \d+ files/,
    );
    expect((await studyCommand('backup', folder, '--out', at('read-only-backup'))).code).toBe(0);
    expect((await studyCommand('check', at('read-only-backup'))).code).toBe(0);
    const wanted =
      /study\.sqlite: found a file that may not be written to; wanted a folder and files that may/;
    expectPlain(await combtone('detect', '--study', folder), 2, wanted);
    await expect(studyCommand('add', folder, recordings[2]!)).rejects.toThrow(wanted);
    await expect(studyCommand('init', join(folder, 'new'))).rejects.toThrow(/a folder that cannot be made/);
    const inside = studyCommand('backup', study, '--out', join(folder, 'backup'));
    await expect(inside).rejects.toThrow(/--out: found .*backup, which cannot be made/);
  });

  test('one whose last writer was killed there is not read without what that one wrote', async () => {
    const folder = await copyOf(study, 'cut-short');
    const open = await openStudy(folder);
    edit(open.store, { kind: 'accept', targets: [now(open.store, 'hive-001-t0001')] });
    const copy = at('cut-short-copy');
    await cp(folder, copy, { recursive: true });
    open.store.close();
    await rm(join(copy, 'study.sqlite-shm'));
    expect((await stat(join(copy, 'study.sqlite-wal'))).size).toBeGreaterThan(0);
    readOnlyDisk(copy);
    const wanted =
      /last writer was cut short, where nothing may be written; wanted a copy of the whole folder/;
    expectPlain(await combtone('export', '--study', copy, '--out', at('cut-short-tables')), 2, wanted);
    await cp(copy, at('cut-short-way-on'), { recursive: true });
    expect(eventCount(at('cut-short-way-on'))).toBe(3);
  });
});
