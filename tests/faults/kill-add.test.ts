import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import Database from 'better-sqlite3';
import { expect, test, vi } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { MAIN, temporaryFolder } from '../cli/run-combtone.ts';
import { shortRecordings, studyCommand, studyOf } from './faulty-study.ts';

vi.setConfig({ testTimeout: 120_000 });

const at = temporaryFolder();

test('recordings that are being added when the program is killed are in the study or not, and the call again adds the rest', async () => {
  const recordings = await shortRecordings(at('rec'), 24, 3);
  const [calm, disturbed] = [at('calm'), at('disturbed')];
  await studyCommand('init', calm);
  await studyCommand('add', calm, ...recordings);
  await studyCommand('init', disturbed);
  const store = new Database(join(disturbed, 'study.sqlite'));
  const added = store.prepare('SELECT path FROM recordings ORDER BY recording_id').pluck();
  const random = seededRandom(3);
  let kills = 0;
  for (let k = 0; k < 4; k++) {
    const before = added.all().length;
    const child = spawn(process.execPath, [MAIN, 'study', 'add', disturbed, ...recordings], {
      stdio: 'ignore',
    });
    const ended = once(child, 'exit');
    const wanted = before + Math.floor(6 * random.uniform());
    while (child.exitCode === null && added.all().length < wanted) await sleep(1);
    const seen = added.all();
    child.kill('SIGKILL');
    const [, signal] = (await ended) as [number | null, string | null];
    if (signal !== null) kills++;
    expect(store.pragma('integrity_check', { simple: true })).toBe('ok');
    expect(added.all().slice(0, seen.length)).toEqual(seen);
  }
  expect(kills).toBeGreaterThan(1);
  const { stdout: said } = await studyCommand('add', disturbed, ...recordings);
  expect(said.match(/: known already\n/g)?.length ?? 0).toBeGreaterThan(0);
  store.close();
  const listed = async (study: string) =>
    JSON.parse((await studyCommand('status', study, '--json')).stdout).recordings;
  expect(await listed(disturbed)).toEqual(await listed(calm));
  expect((await studyCommand('check', disturbed)).code).toBe(0);
});

test('a study whose making was cut short is made by the call again', async () => {
  const random = seededRandom(8);
  for (let k = 0; k < 3; k++) {
    const folder = at(`made-${k}`);
    const child = spawn(process.execPath, [MAIN, 'study', 'init', folder], { stdio: 'ignore' });
    const ended = once(child, 'exit');
    while (child.exitCode === null && !existsSync(folder)) await sleep(1);
    await sleep(12 * random.uniform());
    child.kill('SIGKILL');
    await ended;
    if (!existsSync(join(folder, 'study.json'))) await studyCommand('init', folder);
    expect((await studyCommand('check', folder)).code).toBe(0);
    await expect(studyCommand('init', folder)).rejects.toThrow(/found a study \(study\.json\)/);
  }
  // One that somebody has used, and whose study.json is lost, is not made anew over it.
  const used = await studyOf(at('used'), await shortRecordings(at('one'), 1, 3));
  await rm(join(used, 'study.json'));
  await expect(studyCommand('init', used)).rejects.toThrow(/found a study \(study\.sqlite\)/);
});
