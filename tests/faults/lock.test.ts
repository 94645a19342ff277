import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { beforeAll, expect, onTestFinished, test, vi } from 'vitest';
import { combtone, temporaryFolder } from '../cli/run-combtone.ts';
import {
  copyOf,
  done,
  eventCount,
  expectPlain,
  shortRecordings,
  studyCommand,
  studyOf,
} from './faulty-study.ts';

vi.setConfig({ testTimeout: 120_000 });

const at = temporaryFolder();
let study = '';
let recordings: string[] = [];

beforeAll(async () => {
  recordings = await shortRecordings(at('rec'), 2);
  study = await studyOf(at('study'), recordings.slice(0, 1));
  await writeFile(at('notes.csv'), 'dance_id,bee_id\nhive-001-d0001,red-7\n');
});

/** Another process that holds a study for itself. @returns to be called to let it go */
async function heldByAnother(folder: string): Promise<() => Promise<void>> {
  const holding = `
    import Database from 'better-sqlite3';
    const store = new Database(process.argv[1]);
    store.exec('BEGIN EXCLUSIVE');
    console.log('held');
    process.stdin.on('end', () => { store.exec('ROLLBACK'); store.close(); }).resume();
  `;
  const args = ['--input-type=module', '-e', holding, join(folder, 'study.sqlite')];
  const child = spawn(process.execPath, args, { stdio: ['pipe', 'pipe', 'inherit'] });
  onTestFinished(() => void child.kill('SIGKILL'));
  await once(child.stdout, 'data');
  return async () => {
    const ended = once(child, 'exit');
    child.stdin.end();
    await ended;
  };
}

test('a study that another process holds is told as in use, exit 1; nothing is lost, and then the work goes on', async () => {
  const folder = await copyOf(study, 'held');
  const before = eventCount(folder);
  const letGo = await heldByAnother(folder);
  const writing = [
    ['detect', '--study', folder],
    ['study', 'add', folder, recordings[1]!],
    ['study', 'note', folder, '--from', at('notes.csv'), '--reviewer', 'ada'],
  ];
  const written = Promise.all(writing.map((call) => combtone(...call)));
  // To read is never to wait.
  expect((await studyCommand('status', folder)).code).toBe(0);
  expect((await studyCommand('check', folder)).code).toBe(0);
  expect((await studyCommand('backup', folder, '--out', at('held-backup'))).code).toBe(0);
  const inUse =
    /^combtone: the study is in use by another process; what was kept before stays, this was not written: do it again when/;
  for (const ran of await written) expectPlain(ran, 1, inUse);
  expect(eventCount(at('held-backup'))).toBe(before);
  await letGo();
  expect(eventCount(folder)).toBe(before);
  expect((await studyCommand(...writing[1]!.slice(1))).stdout).toMatch(/hive-002\.wav: added/);
  expect(await done(...writing[0]!)).toMatch(/^2 recordings detected/);
  expect(eventCount(folder)).toBe(before + 2);
  expect((await studyCommand('check', folder)).code).toBe(0);
});

test('a lock that is let go within some seconds is waited for', async () => {
  const folder = await copyOf(study, 'waited');
  const letGo = await heldByAnother(folder);
  const adding = done('study', 'add', folder, recordings[1]!);
  setTimeout(() => void letGo(), 2500);
  expect(await adding).toMatch(/hive-002\.wav: added/);
});
