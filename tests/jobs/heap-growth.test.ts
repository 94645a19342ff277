import { execFileSync } from 'node:child_process';
import { stat } from 'node:fs/promises';
import { beforeEach, expect, test, vi } from 'vitest';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { compileLater } from '../../src/jobs/compile-later.ts';
import { detectOverThreads } from '../../src/jobs/detect-over-threads.ts';
import { letHeapsGrow } from '../../src/jobs/heap-growth.ts';
import { RATE_HZ, recorded, temporaryFolder } from './made-recordings.ts';

const setFlags = vi.hoisted(() => vi.fn());
vi.mock('node:v8', async (original) => ({
  ...(await original<typeof import('node:v8')>()),
  setFlagsFromString: setFlags,
}));
beforeEach(() => setFlags.mockClear());

const at = temporaryFolder('heap-growth');

async function search(threads: number, worthThreadsS: number, moreBytes: number): Promise<void> {
  const path = await recorded(at('short.wav'), [new Float32Array(4 * RATE_HZ).fill(0.1)]);
  const { size } = await stat(path);
  const tasks = [{ path, settings: DEFAULT_SETTINGS, channels: [] }];
  for await (const { ok } of detectOverThreads(threads, worthThreadsS, size + moreBytes)(tasks, {}))
    expect(ok).toBe(true);
}

const flagNames = () => setFlags.mock.calls.map(([flag]) => (flag as string).split('=')[0]);

test('heaps are let grow, and less is compiled, before large files are searched by one thread', async () => {
  await search(1, 5, 0);
  expect(flagNames()).toEqual(['--heap-growing-percent', '--interrupt-budget']);
});

test('and before long sound is searched by two', async () => {
  await search(2, 3, 1);
  expect(flagNames()).toEqual(['--heap-growing-percent', '--interrupt-budget']);
});

test('the engine is left as it is for little sound', async () => {
  await search(1, 3, 1);
  await search(2, 5, 1);
  expect(setFlags).not.toHaveBeenCalled();
});

test('the engine knows what it is told', () => {
  letHeapsGrow();
  compileLater();
  const known = execFileSync(process.execPath, ['--v8-options'], { encoding: 'utf8' });
  expect(flagNames()).toHaveLength(2);
  for (const name of flagNames()) expect(known).toContain(`${name} `);
});
