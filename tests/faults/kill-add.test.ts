import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import Database from 'better-sqlite3';
import { expect, test, vi } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { MAIN, temporaryFolder } from '../cli/run-combtone.ts';
import { done, shortRecordings, studyCommand } from './faulty-study.ts';

vi.setConfig({ testTimeout: 120_000 });

const at = temporaryFolder();

test('recordings that are being added when the program is killed are in the study or not, and the call again adds the rest', async () => {
  const recordings = await shortRecordings(at('rec'), 24, 3);
  const [calm, disturbed] = [at('calm'), at('disturbed')];
  await done('study', 'init', calm);
  await done('study', 'add', calm, ...recordings);
  await done('study', 'init', disturbed);
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
  const said = await done('study', 'add', disturbed, ...recordings);
  expect(said.match(/: known already\n/g)?.length ?? 0).toBeGreaterThan(0);
  store.close();
  const listed = async (study: string) =>
    JSON.parse(await done('study', 'status', study, '--json')).recordings;
  expect(await listed(disturbed)).toEqual(await listed(calm));
  expect((await studyCommand('check', disturbed)).code).toBe(0);
});
