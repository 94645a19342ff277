import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync } from 'node:fs';
import { cp, readdir, readFile, rm, truncate, writeFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { beforeAll, expect, onTestFinished, test } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { eventsAfter } from '../../src/study/store/events.ts';
import { openStore } from '../../src/study/store/open-store.ts';
import { rebuildState, stateNow } from '../../src/study/store/state.ts';
import { backupStudy } from '../../src/study/study-backup.ts';
import { initStudy, newSettings, openStudy } from '../../src/study/study-folder.ts';
import { combtone, MAIN, temporaryFolder } from '../cli/run-combtone.ts';
import { detect, knownRecording, train } from '../study/made-study.ts';
import { eventCount, studyCommand, tamper } from './faulty-study.ts';

const at = temporaryFolder();
let study = '';

beforeAll(async () => {
  study = at('study');
  await initStudy(study, newSettings('faults'));
  const { store } = await openStudy(study);
  const trains = Array.from({ length: 500 }, (_, k) => train(2 * k, 2 * k + 1, Math.floor(k / 10)));
  detect(store, knownRecording(store, { durationS: 1000 }).id, trains);
  store.close();
  await writeFile(join(study, 'feeders.csv'), 'feeder_id,distance_m\nreed,150\n');
  await writeFile(join(study, 'arrivals.csv'), 'time,feeder_id\n2031-06-14T09:40:00+02:00,reed\n');
});

test('a backup is a study itself, holds all that people wrote, and is made once', async () => {
  const out = at('new/place/backup');
  const { stdout } = await studyCommand('backup', '--study', study, '--out', out);
  expect(stdout).toMatch(
    /Copied and verified: .*backup, with study\.sqlite, feeders\.csv, openings\.csv, arr/,
  );
  expect(stdout).toMatch(/1 recording, 500 sounds, 50 dances, 1 event\. /);
  const names = ['arrivals.csv', 'feeders.csv', 'openings.csv', 'study.json', 'study.sqlite'];
  expect((await readdir(out)).sort()).toEqual(names);
  for (const name of names.slice(0, 4)) {
    expect(await readFile(join(out, name))).toEqual(await readFile(join(study, name)));
  }
  const [copy, original] = [openStore(join(out, 'study.sqlite')), openStore(join(study, 'study.sqlite'))];
  expect(stateNow(copy)).toEqual(stateNow(original));
  expect(eventsAfter(copy, 0)).toEqual(eventsAfter(original, 0));
  copy.close();
  original.close();
  expect((await studyCommand('check', out)).code).toBe(0);
  await expect(studyCommand('backup', study, '--out', out)).rejects.toThrow(
    /--out: found .*backup, which is there already; wanted a new folder/,
  );
  await expect(studyCommand('backup', at('none'), '--out', at('b2'))).rejects.toThrow(/no study\.json in it/);
  expect(existsSync(at('b2'))).toBe(false);
});

test('while the review page is served and edits are saved, each backup is whole and has all saved before it', async () => {
  const child = spawn(process.execPath, [MAIN, 'review', '--study', study, '--no-open'], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  onTestFinished(() => void child.kill('SIGKILL'));
  const [line] = (await once(child.stdout, 'data')) as [Buffer];
  const { origin, searchParams } = new URL(line.toString().trim());
  let saved = eventCount(study);
  let going = true;
  const editing = (async () => {
    for (let k = 0; going && k < 500; k++) {
      const id = `hive-t${String(k + 1).padStart(4, '0')}`;
      const edit = { kind: 'accept', targets: [{ id, version: 1 }] };
      const answer = await fetch(`${origin}/api/edits`, {
        method: 'POST',
        headers: {
          authorization: `Bearer ${searchParams.get('token')}`,
          'content-type': 'application/json',
        },
        body: JSON.stringify({ reviewer: 'ada', requestId: `request-${k}`, edit }),
      });
      expect(answer.status).toBe(200);
      saved++;
    }
  })();
  for (let k = 0; k < 4; k++) {
    const before = saved;
    const out = at(`served-${k}`);
    // In this process, so that many edits of the other fall into it.
    const { counts } = await backupStudy(study, out, () => {});
    expect(counts.events).toBeGreaterThanOrEqual(before);
    const copy = openStore(join(out, 'study.sqlite'));
    const rows = stateNow(copy);
    rebuildState(copy);
    expect(stateNow(copy)).toEqual(rows);
    copy.close();
    await sleep(50);
  }
  going = false;
  await editing;
  expect(saved).toBeGreaterThan(10);
  expect(eventCount(study)).toBe(saved);
});

test('killed at any moment, a backup is there whole or not at all', async () => {
  const big = at('big');
  await cp(study, big, { recursive: true });
  // Some megabytes, so that there are moments to be killed at.
  tamper(big, (store) => {
    store.exec('CREATE TABLE ballast (bytes BLOB)');
    const put = store.prepare('INSERT INTO ballast VALUES (randomblob(1000000))');
    for (let k = 0; k < 30; k++) put.run();
  });
  const wanted = eventCount(big);
  const random = seededRandom(5);
  for (let k = 0; k < 4; k++) {
    const out = at(`killed/${k}`);
    const child = spawn(process.execPath, [MAIN, 'study', 'backup', '--study', big, '--out', out]);
    const ended = once(child, 'exit');
    // From when it begins to copy.
    while (child.exitCode === null && !(await begun(dirname(out), k))) await sleep(5);
    await sleep(300 * random.uniform());
    child.kill('SIGKILL');
    await ended;
    if (!existsSync(out)) continue;
    expect((await studyCommand('check', out)).code).toBe(0);
    expect(eventCount(out)).toBe(wanted);
  }
  // What was cut short bears another name and keeps nothing from being done again.
  await rm(at('killed/0'), { recursive: true, force: true });
  expect((await studyCommand('backup', big, '--out', at('killed/0'))).code).toBe(0);
});

async function begun(folder: string, k: number): Promise<boolean> {
  const names = await readdir(folder).catch(() => []);
  return names.some((name) => name.startsWith(`${k}`));
}

test('a damaged store is not passed on as a backup', async () => {
  const torn = at('torn');
  await cp(study, torn, { recursive: true });
  for (const end of ['-wal', '-shm']) await rm(join(torn, `study.sqlite${end}`), { force: true });
  await truncate(join(torn, 'study.sqlite'), 20 * 4096);
  const ran = await combtone('study', 'backup', '--study', torn, '--out', at('torn-backup'));
  expect(ran.code).not.toBe(0);
  expect(ran.stderr).toMatch(/^combtone: .*(damaged|not whole).*\n$/);
  expect((await readdir(at('.'))).filter((name) => name.startsWith('torn-backup'))).toEqual([]);
});
