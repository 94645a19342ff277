import { spawnSync } from 'node:child_process';
import { mkdirSync } from 'node:fs';
import { cp } from 'node:fs/promises';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { expect, onTestFinished } from 'vitest';
import { registerStudy } from '../../src/cli/study.ts';
import { simulateHive } from '../../src/simulate/index.ts';
import { storeFile } from '../../src/study/study-files.ts';
import { initStudy, newSettings, openStudy } from '../../src/study/study-folder.ts';
import { addRecording } from '../../src/study/study-recordings.ts';
import { combtone, type Ran } from '../cli/run-combtone.ts';
import { runCommand } from '../cli/run-command.ts';
import { detect, twoDances } from '../study/made-study.ts';

/** Holds that a command told of a fault in plain lines, each the program's own, and ended with `code`. */
export function expectPlain({ code, stderr }: Ran, wantedCode: number, words: RegExp): void {
  expect(stderr).toMatch(words);
  expect(stderr).toMatch(/^(combtone: [^\n]+\n)+$/);
  expect(stderr).not.toMatch(/\bat .*:\d+:\d+|node:internal|SqliteError/);
  expect(code).toBe(wantedCode);
}

/** Runs a command that must do its work. @returns what it printed */
export async function done(...args: string[]): Promise<string> {
  const ran = await combtone(...args);
  expect(ran).toMatchObject({ code: 0, stderr: '' });
  return ran.stdout;
}

/** Simulated recordings of a few seconds, each with a few runs. */
export async function shortRecordings(folder: string, count: number, lengthS = 8): Promise<string[]> {
  const paths: string[] = [];
  for (let k = 0; k < count; k++) {
    const name = `hive-${String(k + 1).padStart(3, '0')}`;
    const options = { seed: 9000 + k, lengthS, snrDb: 12, dancesPerHour: 3600 };
    paths.push((await simulateHive(folder, name, options)).recordingPath);
  }
  return paths;
}

/** Makes a study with recordings and, as if found in each, the sounds of two dances; without starting processes. */
export async function studyOf(folder: string, recordings: readonly string[]): Promise<string> {
  await initStudy(folder, newSettings('faults'));
  const study = await openStudy(folder);
  for (const path of recordings) {
    const { recording } = await addRecording(study, path);
    detect(study.store, recording.id, twoDances);
  }
  study.store.close();
  return folder;
}

/** Runs `combtone study` in this process, which is quicker; for what ends without an error. */
export async function studyCommand(...args: string[]): Promise<{ code: number; stdout: string }> {
  process.exitCode = 0;
  try {
    const stdout = await runCommand(registerStudy, ['study', ...args]);
    return { code: Number(process.exitCode), stdout };
  } finally {
    process.exitCode = 0;
  }
}

/** A copy of a study beside it, with its recordings at the same relative places. */
export async function copyOf(study: string, name: string): Promise<string> {
  const copy = join(study, '..', name);
  await cp(study, copy, { recursive: true });
  return copy;
}

/** Does something to a store behind the program's back. */
export function tamper<T>(study: string, act: (store: Database.Database) => T): T {
  const store = new Database(join(study, storeFile));
  try {
    store.pragma('foreign_keys = OFF');
    return act(store);
  } finally {
    store.close();
  }
}

/** Events of a study, read as another program would. */
export function eventCount(study: string): number {
  return tamper(study, (store) => store.prepare('SELECT count(*) FROM events').pluck().get() as number);
}

/** Whether this process may mount a file system in a folder of its own; elsewhere such tests are skipped. */
export const mayMount =
  process.platform === 'linux' &&
  spawnSync('unshare', ['-m', 'mount', '-t', 'tmpfs', 'x', '/mnt']).status === 0;

/** Mounts memory of so many bytes as a disk, until the test is over. */
export function smallDisk(folder: string, bytes: number): void {
  mkdirSync(folder, { recursive: true });
  mount('-t', 'tmpfs', '-o', `size=${bytes}`, 'combtone-test', folder);
  onTestFinished(() => void spawnSync('umount', ['-l', folder]));
}

/** Makes a folder one that nobody may write to, root neither, until the test is over. */
export function readOnlyDisk(folder: string): void {
  mount('--bind', folder, folder);
  onTestFinished(() => void spawnSync('umount', ['-l', folder]));
  mount('-o', 'remount,ro,bind', folder);
}

function mount(...args: string[]): void {
  const { status, stderr } = spawnSync('mount', args, { encoding: 'utf8' });
  if (status !== 0) throw new Error(`mount ${args.join(' ')}: ${stderr}`);
}

/** Bytes that a disk has room for. */
export function roomIn(folder: string): number {
  const { stdout } = spawnSync('df', ['--output=avail', '-B1', folder], { encoding: 'utf8' });
  return Number(stdout.trim().split('\n').at(-1));
}
