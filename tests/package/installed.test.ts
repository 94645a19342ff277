import { execFile } from 'node:child_process';
import { cpSync, existsSync, readdirSync, readFileSync } from 'node:fs';
import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { knownRuns, tableText, unknownRuns } from './made-runs.ts';
import { type Packed, pack, ROOT } from './packed.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 600_000 });

/** Some five hundred packages are unpacked by npm, which takes a minute or more: only when it is asked for. */
const reason = process.env.COMBTONE_TRY_INSTALL === undefined ? 'COMBTONE_TRY_INSTALL is not set' : null;

const run = promisify(execFile);
const windows = process.platform === 'win32';
let parent = '';
let folder = '';
let packed: Packed;

/** A command in the folder that holds nothing but what npm installed there. */
const inFolder = (command: string, ...words: string[]) =>
  run(command, words, { cwd: folder, maxBuffer: 1 << 26, shell: windows });
const combtone = async (...words: string[]) =>
  (await inFolder('npx', '--offline', 'combtone', ...words)).stdout;
const { version, devDependencies } = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8')) as {
  version: string;
  devDependencies: Record<string, string>;
};

describe.skipIf(reason !== null)(
  `the tarball, installed by npm in an empty folder${reason === null ? '' : ` (not tried: ${reason})`}`,
  () => {
    beforeAll(async () => {
      parent = await mkdtemp(join(tmpdir(), 'combtone-installed-'));
      folder = join(parent, 'empty');
      await mkdir(folder);
      packed = await pack(parent);
      // Its own package.json keeps npm from taking a folder above for the one to install in.
      await writeFile(join(folder, 'package.json'), '{"private":true}\n');
      const from = join(parent, packed.filename);
      await inFolder('npm', 'install', from, '--omit=dev', '--prefer-offline', '--no-audit', '--no-fund');
    });
    afterAll(() => rm(parent, { recursive: true, force: true }));

    test('brings nothing that only development needs', () => {
      const brought = Object.keys(devDependencies).filter((name) =>
        existsSync(join(folder, 'node_modules', name)),
      );
      expect(brought).toEqual([]);
    });

    test('tells its version, simulates a recording and finds runs in it, by npx', async () => {
      expect(await combtone('--version')).toBe(`${version}\n`);
      await combtone('simulate', '--out', 'made', '--minutes', '1', '--snr', '12');
      const found = JSON.parse(await combtone('detect', 'made/simulated.wav', '--json')) as {
        trains: unknown[];
      };
      expect(found.trains.length).toBeGreaterThan(3);
    });

    test('makes a study, which wants the native store', async () => {
      await combtone('study', 'init', 'summer');
      await combtone('study', 'add', 'summer', 'made/simulated.wav');
      expect(await combtone('detect', '--study', 'summer')).toMatch(/^1 recording detected/);
      await combtone('export', '--study', 'summer', '--out', 'tables');
      expect(readdirSync(join(folder, 'tables'))).toContain('trains.csv');
    });

    test('every example of the documents runs beside it', async () => {
      const examples = join(folder, 'node_modules/combtone/docs/examples');
      for (const name of readdirSync(examples)) cpSync(join(examples, name), join(folder, name));
      const node = async (...words: string[]) => (await inFolder('node', ...words)).stdout;
      expect(await node('time-the-runs.mjs', 'made/simulated.wav')).toMatch(/^simulated-d0001: \d+ runs/m);
      expect(await node('where-she-points.mjs')).toMatch(/^bearing: \d+/m);
      const columns = ['bee_id', 'dance_id', 'distance_m', 'duration_s'] as const;
      await writeFile(join(folder, 'runs.csv'), tableText(knownRuns, columns));
      await writeFile(join(folder, 'foraging.csv'), tableText(unknownRuns, ['dance_id', 'duration_s']));
      const told = await node('distances.mjs', 'runs.csv', 'foraging.csv', 'calibration.json');
      expect(told).toMatch(/^f1: [56]\d\d m \(90 %/m);
      expect(readdirSync(examples).sort()).toEqual([
        'distances.mjs',
        'time-the-runs.mjs',
        'where-she-points.mjs',
      ]);
    });
  },
);
