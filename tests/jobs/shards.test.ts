import { readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { beforeAll, describe, expect, test, vi } from 'vitest';
import { parseShard, shardOf } from '../../src/study/shard.ts';
import { initStudy, newSettings, openStudy } from '../../src/study/study-folder.ts';
import { addRecording } from '../../src/study/study-recordings.ts';
import { detectShard } from '../../src/study/study-shard.ts';
import { combtone, expectRefused } from '../cli/run-combtone.ts';
import { RATE_HZ, recorded, simulatedChannels, temporaryFolder } from './made-recordings.ts';

// Many processes are started, on a machine that may be busy with others.
vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

const at = temporaryFolder('shards');
let paths: string[] = [];
beforeAll(async () => {
  const [channel] = await simulatedChannels(110);
  // Stretches of their own, so that each recording holds other runs.
  paths = await Promise.all(
    Array.from({ length: 5 }, (_, k) =>
      recorded(at(`hive-${k}.wav`), [channel!.subarray(20 * k * RATE_HZ, (20 * k + 30) * RATE_HZ)]),
    ),
  );
}, 60_000);

async function studyOf(name: string, recordings: readonly string[] = paths): Promise<string> {
  await initStudy(at(name), newSettings('shards'));
  const study = await openStudy(at(name));
  for (const path of recordings) await addRecording(study, path);
  study.store.close();
  return at(name);
}

/** The tables that the command writes of a study, byte for byte. */
async function exported(folder: string): Promise<Record<string, string>> {
  const { code } = await combtone('export', '--study', folder, '--out', `${folder}-tables`);
  expect(code).toBe(0);
  const names = ['trains.csv', 'calls.csv', 'dances.csv', 'pulses.csv'];
  const there = await readdir(`${folder}-tables`);
  return Object.fromEntries(
    await Promise.all(
      names
        .filter((name) => there.includes(name))
        .map(async (name) => [name, await readFile(join(`${folder}-tables`, name), 'utf8')]),
    ),
  );
}

describe('shards', () => {
  test('searched at once and merged, they make the same tables as one call; repeats change nothing', async () => {
    const whole = await studyOf('whole');
    expect((await combtone('detect', '--study', whole)).code).toBe(0);
    const parted = await studyOf('parted');
    const shards = await Promise.all(
      ['1/3', '2/3', '3/3'].map((shard) => combtone('detect', '--study', parted, '--shard', shard)),
    );
    expect(shards.map(({ code, stderr }) => ({ code, stderr }))).toEqual(
      shards.map(() => ({ code: 0, stderr: '' })),
    );
    expect(shards[1]!.stdout).toMatch(/^Shard 2\/3: 2 recordings searched, 0 had been/);
    expect(await readdir(join(parted, 'found'))).toHaveLength(5);
    const again = await combtone('detect', '--study', parted, '--shard', '2/3');
    expect(again.stdout).toMatch(/^Shard 2\/3: 0 recordings searched, 2 had been/);
    const merged = await combtone('study', 'merge', parted);
    expect(merged).toMatchObject({ code: 0, stderr: '' });
    expect(merged.stdout).toMatch(/^5 recordings detected, 0 had been/);
    expect(await readdir(join(parted, 'found'))).toEqual([]);
    const tables = await exported(whole);
    expect(tables['trains.csv']!.split('\n').length).toBeGreaterThan(10);
    expect(await exported(parted)).toEqual(tables);
    const repeated = await combtone('study', 'merge', parted);
    expect(repeated).toMatchObject({
      code: 0,
      stdout: '0 recordings detected, 5 had been before, with these settings\n',
    });
    expect(await exported(parted)).toEqual(tables);
  });

  test('merged early, what is there is taken in and what is missing is told', async () => {
    const folder = await studyOf('early', paths.slice(0, 3));
    const study = await openStudy(folder);
    await detectShard(study, { number: 2, count: 2 });
    study.store.close();
    const early = await combtone('study', 'merge', folder);
    expect(early.code).toBe(1);
    expect(early.stdout).toMatch(/^1 recording detected, 0 had been/);
    expect(early.stderr.split('\n').sort()).toEqual([
      '',
      'combtone: ../hive-0.wav: not searched by any shard yet',
      'combtone: ../hive-2.wav: not searched by any shard yet',
    ]);
  });

  test('a bad recording costs only itself; a file of another version or a torn one is told, then made anew', async () => {
    const folder = await studyOf('bad', paths.slice(0, 3));
    await writeFile(paths[2]!, 'no sound any more');
    const searched = await combtone('detect', '--study', folder, '--shard', '1/1');
    expect(searched.code).toBe(2);
    expect(searched.stderr).toMatch(/^combtone: [^\n]*hive-2\.wav: found no such recording[^\n]*\n$/);
    const [one, two] = (await readdir(join(folder, 'found'))).map((name) => join(folder, 'found', name));
    const text = await readFile(one!, 'utf8');
    await writeFile(one!, text.replace(/"combtoneVersion":"[^"]*"/, '"combtoneVersion":"0.0.1"'));
    await writeFile(two!, (await readFile(two!, 'utf8')).slice(0, 500));
    const merged = await combtone('study', 'merge', folder);
    expect(merged.code).toBe(2);
    expect(merged.stderr).toMatch(/found findings of combtone 0\.0\.1; wanted those of/);
    expect(merged.stderr).toMatch(/found no JSON, or a part of it/);
    const again = await combtone('detect', '--study', folder, '--shard', '1/1');
    expect(again.stdout).toMatch(/^Shard 1\/1: 2 recordings searched/);
    expect((await combtone('study', 'merge', folder)).stdout).toMatch(/^2 recordings detected/);
  });

  test('every recording is in one shard', () => {
    const items = [0, 1, 2, 3, 4, 5, 6];
    const shards = [1, 2, 3].map((number) => shardOf(items, { number, count: 3 }));
    expect(shards).toEqual([
      [0, 3, 6],
      [1, 4],
      [2, 5],
    ]);
    expect(shardOf(items, parseShard('8/9'))).toEqual([]);
  });

  test.each(['0/3', '4/3', '1/0', '1', 'a/b', '1/3/5', ''])('--shard %j is refused', async (text) => {
    expect(() => parseShard(text)).toThrow(
      /--shard: found .*; wanted number and count of shards, such as 2\/5/,
    );
  });

  test('--shard without a study is refused', async () => {
    expectRefused(
      await combtone('detect', paths[0]!, '--shard', '1/2'),
      /--shard: found no --study beside it/,
    );
  });
});
