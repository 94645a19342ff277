import { execFile } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
// The package as others import it: `exports` in package.json leads to what was built.
import * as combtone from 'combtone';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { simulateHive, simulateSound } from '../../src/simulate/index.ts';
import { knownRuns, tableText, unknownRuns } from './made-runs.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 60_000 });

const EXAMPLES = fileURLToPath(new URL('../../docs/examples/', import.meta.url));
const DANCING = { seed: 8401, lengthS: 45, dancesPerHour: 240, snrDb: 12 };

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-library-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

describe('the library', () => {
  test('finds in samples what it finds in the file of the same sound', async () => {
    const { recordingPath } = await simulateHive(folder, 'hive', { ...DANCING, encoding: 'float32' });
    const inFile = await combtone.detect(recordingPath);
    const sound = await simulateSound({ ...DANCING, encoding: 'float32' }, 'hive.wav');
    const inSamples = await combtone.detectSamples(sound, { recording: 'hive' });
    const times = ({ trains }: combtone.DetectionTables) => trains.map((row) => [row.start_s, row.end_s]);
    expect(inFile.trains.length).toBeGreaterThan(5);
    expect(times(inSamples)).toEqual(times(inFile));
    expect(inSamples.dances.length).toBe(inFile.dances.length);
  });

  test('calibrates on rows and reads distances off: 600 m within 40 m, inside the interval', () => {
    const calibration = combtone.calibrate(knownRuns, { curve: 'line' });
    const [row, ...others] = combtone.estimate(calibration, unknownRuns);
    expect(others).toEqual([]);
    expect(Math.abs(row!.distance_m! - 600)).toBeLessThan(40);
    expect(row!.distance_low_m).toBeLessThan(600);
    expect(row!.distance_high_m).toBeGreaterThan(600);
    const narrower = combtone.estimate(calibration, unknownRuns, { level: 0.5 })[0]!;
    expect(narrower.distance_high_m! - narrower.distance_low_m!).toBeLessThan(
      0.6 * (row!.distance_high_m! - row!.distance_low_m!),
    );
  });

  test('the bearing of a dance is the sun’s azimuth and the mean comb angle, between its bounds', () => {
    const hive = { latitudeDeg: 48, longitudeDeg: 8 };
    const instant = Date.parse('2031-06-14T09:30:00Z');
    const runs = [-50, 10, 14, 12, 50].map((combAngleDeg) => ({ combAngleDeg, instant }));
    const dance = combtone.bearingOfDance(hive, runs);
    const sun = combtone.sunPosition(hive, instant);
    expect(dance.usedRuns).toBe(3);
    expect(dance.bearingDeg).toBeCloseTo(sun.azimuthDeg + 12, 6);
    expect(dance.bearingDeg! - dance.lowDeg!).toBeCloseTo(dance.highDeg! - dance.bearingDeg!, 6);
    // Three runs of SD 6 degrees: 1.96 · 6/√3 either way.
    const given = combtone.bearingOfDance(hive, runs, { runSdDeg: 6 });
    expect(given.highDeg! - given.bearingDeg!).toBeCloseTo((1.96 * 6) / Math.sqrt(3), 1);
    const single = combtone.bearingOfDance(hive, runs.slice(0, 1));
    expect(single).toMatchObject({ lowDeg: null, highDeg: null, flags: ['spread unknown: single runs'] });
    expect(combtone.bearingOfDance(hive, runs, { posture: 'oblique' }).bearingDeg).toBeNull();
  });

  const sound = { sampleRateHz: 8000, channels: [new Float32Array(8)] };
  test.each<[string, () => unknown, RegExp]>([
    ['no rows', () => combtone.calibrate([]), /^observations: found no rows/],
    [
      'a distance left out',
      () => combtone.calibrate([...knownRuns, { dance_id: 'x', duration_s: 1 }]),
      /row 97, column distance_m: found null; wanted a number/,
    ],
    [
      'a time in ms',
      () => combtone.calibrate([{ dance_id: 'x', distance_m: 100, duration_s: 900 }]),
      /row 1, column duration_s: found 900; wanted seconds above 0, at most 60/,
    ],
    [
      'a level of 95',
      () => combtone.estimate(combtone.calibrate(knownRuns, { curve: 'line' }), unknownRuns, { level: 95 }),
      /level: found 95/,
    ],
    ['no runs', () => combtone.bearingOfDance({ latitudeDeg: 0, longitudeDeg: 0 }, []), /runs: found none/],
    [
      'a narrow band',
      () => combtone.detectSamples(sound, { bandHz: [300, 310] }),
      /bandHz: found 300 to 310/,
    ],
    [
      'a low rate',
      () => combtone.detectSamples({ ...sound, sampleRateHz: 1000 }),
      /samples: found a sample rate of 1000 Hz/,
    ],
    [
      'NaN among the samples',
      () => combtone.detectSamples({ ...sound, channels: [new Float32Array([0, Number.NaN])] }),
      /channel 1: found NaN at sample 1/,
    ],
  ])('refuses %s in words', async (_, call, wanted) => {
    const error = await Promise.resolve()
      .then(call)
      .then(
        () => null,
        (thrown: unknown) => thrown,
      );
    expect(error).toBeInstanceOf(combtone.InputError);
    expect((error as Error).message).toMatch(wanted);
  });
});

/** What an example prints. */
async function run(example: string, ...words: string[]): Promise<string> {
  const { stdout, stderr } = await promisify(execFile)(process.execPath, [join(EXAMPLES, example), ...words]);
  expect(stderr).toBe('');
  return stdout;
}

describe('the examples run against what was built', () => {
  test('time-the-runs', async () => {
    const { recordingPath, truth } = await simulateHive(folder, 'example', DANCING);
    const printed = await run('time-the-runs.mjs', recordingPath);
    const found = Number(/^(\d+) runs, \d+ of them too faint/m.exec(printed)?.[1]);
    expect(printed).toMatch(/^example-d0001: \d+ runs, mean \d\.\d\d s$/m);
    expect(found / truth.trains.length).toBeGreaterThan(0.7);
    expect(found / truth.trains.length).toBeLessThan(1.2);
  });

  test('distances', async () => {
    const at = (name: string) => join(folder, name);
    await writeFile(at('runs.csv'), tableText(knownRuns, ['bee_id', 'dance_id', 'distance_m', 'duration_s']));
    await writeFile(at('foraging.csv'), tableText(unknownRuns, ['bee_id', 'dance_id', 'duration_s']));
    const printed = await run('distances.mjs', at('runs.csv'), at('foraging.csv'), at('calibration.json'));
    expect(printed).toMatch(/^duration: [a-z-]+ curve, 16 dances$/m);
    expect(printed).toMatch(/^f1: [56]\d\d m \(90 %: \d+ to \d+ m\)/m);
    expect((await combtone.readCalibration(at('calibration.json'))).duration?.counts.runs).toBe(64);
  });

  test('where-she-points', async () => {
    const printed = await run('where-she-points.mjs');
    expect(printed).toMatch(/^bearing: \d+\.\d° \(95 %: \d+\.\d° to \d+\.\d°\)$/m);
    expect(printed).toMatch(/^850 m that way: 4[78]\.\d{5}, 8\.\d{5}$/m);
  });

  test('every example is run here', () => {
    const own = readFileSync(fileURLToPath(import.meta.url), 'utf8');
    const unrun = readdirSync(EXAMPLES).filter((name) => !own.includes(`run('${name}'`));
    expect(unrun).toEqual([]);
  });
});
