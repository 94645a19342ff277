import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { registerCompare } from '../../src/cli/compare.ts';
import { seededRandom } from '../../src/random.ts';
import { runCommand } from './run-command.ts';

let folder: string;
let observations: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-compare-'));
  observations = join(folder, 'observations.csv');
  await writeFile(observations, simulatedTable(['reference', 'loaded']));
});
afterAll(() => rm(folder, { recursive: true }));

/** Simulated runs of five bees to three feeders; a load adds 0.2 s to every run. */
function simulatedTable(treatments: readonly string[]): string {
  const random = seededRandom(8);
  const rows = ['bee_id,dance_id,distance_m,duration_s,circuits_per_15s,treatment'];
  for (let bee = 0; bee < 5; bee++) {
    const beeS = 0.05 * random.normal();
    for (const distanceM of [300, 700, 1200]) {
      for (const treatment of treatments) {
        for (let dance = 0; dance < 2; dance++) {
          const danceS = 0.2 + 0.0012 * distanceM + beeS + 0.04 * random.normal();
          for (let run = 0; run < 6; run++) {
            const runS = Math.max(danceS + (treatment === 'loaded' ? 0.2 : 0) + 0.12 * random.normal(), 0.05);
            const circuits = 15 / (runS + 1.6 + 0.1 * random.normal());
            const id = `${bee}-${distanceM}-${treatment}-${dance}`;
            rows.push(`bee-${bee},${id},${distanceM},${runS.toFixed(3)},${circuits.toFixed(3)},${treatment}`);
          }
        }
      }
    }
  }
  return `${rows.join('\n')}\n`;
}

const compare = (...args: string[]) =>
  runCommand(registerCompare, ['compare', '--observations', observations, '--permutations', '199', ...args]);

test('says what the load does to duration, tempo, metres and each bee', async () => {
  const out = join(folder, 'comparison.json');
  const printed = await compare('--out', out);
  expect(printed).toMatch(/^loaded against reference/);
  expect(printed).toMatch(
    /run duration: 30 dances under it, 30 without, by 5 marked bees, 5 of which danced under both/,
  );
  expect(printed).toMatch(/shift of indicated distance \(m\), mean/);
  expect(printed).toMatch(/the model has one shift of time, alike at every distance/);
  expect(printed).toMatch(/^ *700 +10 +10 /m);
  expect(printed).toMatch(/that the shift changes with distance is not shown \(likelihood ratio/);
  expect(printed).toMatch(/permutation test, shuffling dances within bees: p = 0\.005/);
  expect(printed).toMatch(/mean of 5 bees, each counted once/);
  const [loaded] = JSON.parse(await readFile(out, 'utf8')).treatments;
  expect(loaded.duration.shiftS.low).toBeLessThan(0.2);
  expect(loaded.duration.shiftS.high).toBeGreaterThan(0.2);
  expect(Math.abs(loaded.duration.meanShiftM.value - 0.2 / 0.0012)).toBeLessThan(50);
  expect(loaded.tempo.shiftPer15s.high).toBeLessThan(0);
  expect(await compare('--json')).toBe(await readFile(out, 'utf8'));
}, 20_000);

test('refuses a table with one treatment only, and writes nothing', async () => {
  const before = await readdir(folder);
  const plain = join(folder, 'observations.csv');
  const kept = await readFile(plain, 'utf8');
  await writeFile(plain, simulatedTable(['reference']));
  await expect(compare('--out', join(folder, 'never.json'))).rejects.toThrow(
    /column treatment: found no treatment beside the reference/,
  );
  await writeFile(plain, kept);
  expect(await readdir(folder)).toEqual(before);
});

test('refuses too few shuffles', async () => {
  await expect(compare('--permutations', '3')).rejects.toThrow(
    /--permutations: found "3"; wanted a whole number from 99/,
  );
});

test('--help carries a worked example', async () => {
  expect(await runCommand(registerCompare, ['compare', '--help'])).toMatch(
    /Example:[\s\S]*\$ combtone compare --/,
  );
});
