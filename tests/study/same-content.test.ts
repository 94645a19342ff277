import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test, vi } from 'vitest';
import { fileSha256 } from '../../src/study/file-hash.ts';
import { sameContent } from '../../src/study/same-content.ts';

vi.mock('../../src/study/file-hash.ts', async (original) => {
  const real = await original<typeof import('../../src/study/file-hash.ts')>();
  return { ...real, fileSha256: vi.fn(real.fileSha256) };
});

const LENGTH = 100_000;
let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-same-content-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

async function file(name: string, change: (bytes: Uint8Array) => void): Promise<string> {
  const bytes = Uint8Array.from({ length: LENGTH }, (_, k) => (k * k) % 251);
  change(bytes);
  await writeFile(join(folder, name), bytes);
  return join(folder, name);
}

test('files that differ in one byte, wherever it is, are not the same', async () => {
  const first = await file('a.wav', () => {});
  // Beside all places that are looked at first, and in the first and the last of them.
  const others = await Promise.all(
    [1000, 0, LENGTH - 1].map((at, k) =>
      file(`b${k}.wav`, (bytes) => {
        bytes[at]! ^= 1;
      }),
    ),
  );
  const copy = await file('c.wav', () => {});
  expect(await sameContent([first, ...others, copy])).toEqual(new Map([[copy, first]]));
});

test('twins are told in the order of the files, each beside the first of its kind', async () => {
  const a = await file('a1.wav', () => {});
  const b = await file('b1.wav', (bytes) => bytes.fill(7));
  const secondB = await file('b2.wav', (bytes) => bytes.fill(7));
  const secondA = await file('a2.wav', () => {});
  const thirdB = await file('b3.wav', (bytes) => bytes.fill(7));
  expect([...(await sameContent([a, b, secondB, secondA, thirdB]))]).toEqual([
    [secondB, b],
    [secondA, a],
    [thirdB, b],
  ]);
});

test('files of one length that differ all over are not read to their end, and what is no file is passed over', async () => {
  const paths = await Promise.all(
    [1, 2, 3].map((value) => file(`d${value}.wav`, (bytes) => bytes.fill(value))),
  );
  vi.mocked(fileSha256).mockClear();
  expect(await sameContent([...paths, folder, join(folder, 'nowhere.wav')])).toEqual(new Map());
  expect(fileSha256).not.toHaveBeenCalled();
});
