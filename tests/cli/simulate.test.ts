import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync } from 'node:fs';
import { mkdir, readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { setImmediate as nextTurn, setTimeout as sleep } from 'node:timers/promises';
import { expect, test, vi } from 'vitest';
import { registerSimulate } from '../../src/cli/simulate.ts';
import { simulateHive } from '../../src/simulate/index.ts';
import { combtone, expectRefused, MAIN, temporaryFolder } from './run-combtone.ts';
import { runCommand } from './run-command.ts';

vi.setConfig({ testTimeout: 120_000 });

const at = temporaryFolder();
const inFolder = (folder: string) => readdir(folder).catch(() => []);

test('says what it has written, piped too: every file, the seconds and the dances', async () => {
  const args = ['simulate', '--out', at('told'), '--name', 'hive', '--minutes', '0.5', '--seed', '4'];
  const told = await runCommand(registerSimulate, [...args, '--dances-per-hour', '300']);
  const [, seconds, dances] =
    /\n\nWritten: .*\/hive\.wav \((\d+) s, (\d+) dances?\), and in .*\/hive-truth trains\.csv, calls\.csv, dances\.csv, pulses\.csv, simulation\.json\n$/.exec(
      told,
    ) ?? [];
  expect(seconds).toBe('30');
  expect(told).toContain(`holds        ${dances} dance`);
  expect((await inFolder(at('told/hive-truth'))).sort()).toEqual(
    ['trains.csv', 'calls.csv', 'dances.csv', 'pulses.csv', 'simulation.json'].sort(),
  );
});

test.each([
  ['SIGINT', 130],
  ['SIGTERM', 143],
] as const)('stopped by %s it leaves nothing behind, and says so', async (signal, wanted) => {
  const folder = at(signal);
  const child = spawn(process.execPath, [MAIN, 'simulate', '--out', folder, '--minutes', '20']);
  let stderr = '';
  child.stderr.on('data', (text) => {
    stderr += text;
  });
  const ended = once(child, 'close');
  while ((await inFolder(folder)).length === 0 && child.exitCode === null) await sleep(10);
  expect(await inFolder(folder)).toEqual([expect.stringMatching(/^simulated\.wav\..*\.tmp$/)]);
  child.kill(signal);
  expect(await ended).toEqual([wanted, null]);
  expect(stderr).toBe('combtone: stopped: nothing is written\n');
  expect(existsSync(folder)).toBe(false);
});

test('a recording is never written over; an earlier simulation is', async () => {
  await mkdir(at('kept'));
  await writeFile(at('kept/hive.wav'), 'what was recorded');
  const call = ['simulate', '--out', at('kept'), '--name', 'hive', '--minutes', '0.2'];
  expectRefused(
    await combtone(...call),
    /hive\.wav: found a file that is there already and no simulation .*; wanted a new name/,
  );
  expect(await readFile(at('kept/hive.wav'), 'utf8')).toBe('what was recorded');
  const again = ['simulate', '--out', at('kept'), '--name', 'made', '--minutes', '0.2'];
  expect((await combtone(...again)).code).toBe(0);
  expect((await combtone(...again)).code).toBe(0);
});

test('it can be stopped before any sound is written, while the background is measured', async () => {
  const stop = new AbortController();
  const made = simulateHive(at('early'), 'hive', { lengthS: 60 }, { signal: stop.signal });
  void nextTurn().then(() => stop.abort());
  await expect(made).rejects.toThrow('aborted');
  expect(existsSync(at('early'))).toBe(false);
});

test('how far it is rises from the background on to the end', async () => {
  const shares: number[] = [];
  const onProgress = (share: number) => shares.push(share);
  const { recordingPath } = await simulateHive(at('rising'), 'hive', { lengthS: 60 }, { onProgress });
  expect(recordingPath).toBe(join(at('rising'), 'hive.wav'));
  expect(shares.length).toBeGreaterThan(10);
  expect(shares).toEqual([...shares].sort((a, b) => a - b));
  expect(shares[0]).toBeLessThan(0.1);
  expect(shares.at(-1)).toBe(1);
});
