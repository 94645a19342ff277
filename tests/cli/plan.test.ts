import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { registerCalibrate } from '../../src/cli/calibrate.ts';
import { registerPlan } from '../../src/cli/plan.ts';
import { seededRandom } from '../../src/random.ts';
import { runCommand } from './run-command.ts';

let folder: string;
let pilot: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-plan-'));
  pilot = join(folder, 'pilot.json');
  const random = seededRandom(5);
  const rows = ['bee_id,dance_id,distance_m,duration_s'];
  for (let bee = 0; bee < 4; bee++) {
    const beeS = 0.06 * random.normal();
    for (const distanceM of [200, 500, 900, 1400]) {
      for (let run = 0; run < 5; run++) {
        const runS = 0.2 + 0.0012 * distanceM + beeS + 0.15 * random.normal();
        rows.push(`bee-${bee},${bee}-${distanceM},${distanceM},${Math.max(runS, 0.05).toFixed(3)}`);
      }
    }
  }
  const observations = join(folder, 'pilot.csv');
  await writeFile(observations, `${rows.join('\n')}\n`);
  const args = [
    'calibrate',
    '--observations',
    observations,
    '--curve',
    'line',
    '--draws',
    '80',
    '--out',
    pilot,
  ];
  await runCommand(registerCalibrate, args);
}, 30_000);
afterAll(() => rm(folder, { recursive: true }));

const plan = (...args: string[]) =>
  runCommand(registerPlan, ['plan', '--calibration', pilot, '--distance', '800', '--studies', '8', ...args]);

test('more bees and dances narrow the interval, never below what scatter leaves', async () => {
  const args = ['--within', '300', '--feeders', '4', '--bees', '3,12', '--dances', '1,3', '--json'];
  const first = await plan(...args);
  const { designs, leastHalfWidthM } = JSON.parse(first);
  expect(designs.map(({ allDances }: { allDances: number }) => allDances)).toEqual([12, 36, 48, 144]);
  expect(designs[3].halfWidthM).toBeLessThan(designs[0].halfWidthM);
  expect(designs[3].halfWidthM).toBeGreaterThan(0.6 * leastHalfWidthM);
  expect(leastHalfWidthM).toBeGreaterThan(50);
  expect(await plan(...args)).toBe(first);
}, 60_000);

test('says which design is enough, or that none can be', async () => {
  const design = ['--feeders', '4', '--bees', '4', '--dances', '2'];
  expect(await plan('--within', '2000', ...design)).toMatch(
    /Fewest dances that keep within ± 2000 m .*: 32 \(4 feeders, 4 bees, 2 dances/,
  );
  expect(await plan('--within', '10', ...design)).toMatch(/± 10 m cannot be had from one such dance/);
}, 60_000);

test.each([
  [['--within', '0'], /--within: found "0"; wanted a whole number from 1/],
  [['--within', '100', '--bees', '5,many'], /--bees: found "many"/],
])('refuses %j', async (args, expected) => {
  await expect(plan(...args)).rejects.toThrow(expected);
});

test('--help carries a worked example', async () => {
  expect(await runCommand(registerPlan, ['plan', '--help'])).toMatch(/Example:[\s\S]*\$ combtone plan --/);
});
