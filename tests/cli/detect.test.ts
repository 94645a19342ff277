import { mkdir, readdir, readFile, writeFile } from 'node:fs/promises';
import { beforeAll, describe, expect, test } from 'vitest';
import { openRecording, writeWave } from '../../src/recording/index.ts';
import { simulateHive } from '../../src/simulate/index.ts';
import { readTable } from '../../src/study/csv.ts';
import { callSchema, danceSchema, type TrainRow, trainSchema } from '../../src/study/tables.ts';
import { readAll } from '../recording/wave-bytes.ts';
import { combtone, expectRefused, temporaryFolder } from './run-combtone.ts';

const at = temporaryFolder();
let hive = '';
let found: Awaited<ReturnType<typeof combtone>>;

beforeAll(async () => {
  const { recordingPath } = await simulateHive(at('in'), 'hive', {
    seed: 8101,
    lengthS: 60,
    snrDb: 12,
    dancesPerHour: 300,
    startTime: '2031-06-14T09:30:00',
  });
  hive = recordingPath;
  found = await combtone('detect', hive, '--out', at('found'));
}, 30_000);

const trainsOf = async (...args: string[]): Promise<TrainRow[]> => {
  const { code, stdout } = await combtone('detect', ...args, '--json');
  expect(code).toBe(0);
  return JSON.parse(stdout).trains;
};

/** What was found by default: the table says the same as --json, as is tested below. */
const usualTrains = async (): Promise<TrainRow[]> =>
  (await readTable(at('found/trains.csv'), trainSchema)).map(({ row }) => row);

describe('combtone detect', () => {
  test('writes three tables that can be read back, and says so', async () => {
    expect(found).toMatchObject({ code: 0, stderr: '' });
    expect(found.stdout).toMatch(/recording +minutes +start +runs +dances/);
    expect(found.stdout).toMatch(/hive\.wav/);
    expect(found.stdout).toMatch(/Written: .*trains\.csv, calls\.csv, dances\.csv/);
    expect((await readdir(at('found'))).sort()).toEqual(['calls.csv', 'dances.csv', 'trains.csv']);
    const trains = (await readTable(at('found/trains.csv'), trainSchema)).map(({ row }) => row);
    const dances = (await readTable(at('found/dances.csv'), danceSchema)).map(({ row }) => row);
    await readTable(at('found/calls.csv'), callSchema);
    expect(trains.length).toBeGreaterThan(5);
    for (const train of trains) {
      expect(train).toMatchObject({ recording: 'hive.wav', channel: 1, status: 'found' });
      expect(train.end_s - train.start_s).toBeCloseTo(train.duration_s!, 9);
      expect(dances.some(({ dance_id }) => dance_id === train.dance_id)).toBe(true);
      const clock = Date.parse(`${train.start_time}Z`) - Date.parse('2031-06-14T09:30:00Z');
      expect(Math.abs(clock - 1000 * train.start_s)).toBeLessThanOrEqual(0.5);
    }
    expect(new Set(trains.map(({ train_id }) => train_id)).size).toBe(trains.length);
    expect(dances.reduce((sum, { run_count }) => sum + run_count, 0)).toBe(trains.length);
  });

  test('the same recording gives the same bytes', async () => {
    const again = await combtone('detect', hive, '--out', at('again'));
    expect(again.code).toBe(0);
    for (const name of ['trains.csv', 'calls.csv', 'dances.csv']) {
      expect(await readFile(at(`again/${name}`), 'utf8')).toBe(await readFile(at(`found/${name}`), 'utf8'));
    }
  });

  test('--json prints all findings and nothing else', async () => {
    const { code, stdout, stderr } = await combtone('detect', hive, '--json');
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    const { trains, calls, dances, recordings } = JSON.parse(stdout);
    expect(recordings).toMatchObject([{ path: hive, sampleRateHz: 8000, channelCount: 1, durationS: 60 }]);
    const rows = await readTable(at('found/trains.csv'), trainSchema);
    expect(trains).toEqual(rows.map(({ row }) => row));
    expect(calls).toHaveLength((await readTable(at('found/calls.csv'), callSchema)).length);
    expect(dances).toHaveLength((await readTable(at('found/dances.csv'), danceSchema)).length);
  });

  test('whole numbers in a float file, far beyond ±1, give the same trains within 1 ms', async () => {
    const recording = await openRecording(hive);
    const { samples } = await readAll(recording);
    await recording.close();
    const whole = Float32Array.from(samples, (sample) => Math.round(32_768 * sample));
    expect(Math.max(...whole.subarray(0, 8000).map(Math.abs))).toBeGreaterThan(10);
    await writeWave(at('whole.wav'), { sampleRateHz: 8000, encoding: 'float32', channels: [whole] });
    const { code, stdout, stderr } = await combtone('detect', at('whole.wav'), '--json');
    expect(code).toBe(0);
    expect(stderr).toMatch(/warning: .*float samples reach \d+, beyond ±1: taken as they are/);
    const ofInteger = await usualTrains();
    const ofFloat: TrainRow[] = JSON.parse(stdout).trains;
    expect(ofFloat).toHaveLength(ofInteger.length);
    ofFloat.forEach((train, k) => {
      expect(Math.abs(train.start_s - ofInteger[k]!.start_s)).toBeLessThan(0.001);
      expect(Math.abs(train.end_s - ofInteger[k]!.end_s)).toBeLessThan(0.001);
    });
  });

  test('--confidence 1 leaves nearly nothing, 0 leaves more than the default', async () => {
    const [all, usual, none] = await Promise.all([
      trainsOf(hive, '--confidence', '0'),
      usualTrains(),
      trainsOf(hive, '--confidence', '1'),
    ]);
    expect(all.length).toBeGreaterThanOrEqual(usual.length);
    expect(none.length).toBeLessThan(usual.length);
    expect(usual.every(({ confidence }) => confidence! >= 0.5)).toBe(true);
  });

  test('one bad file among good ones: the others are done, exit 2', async () => {
    const { code, stdout, stderr } = await combtone('detect', hive, at('nowhere.wav'), '--out', at('mixed'));
    expect(code).toBe(2);
    expect(stderr).toMatch(/^combtone: [^\n]*nowhere\.wav: found no such file[^\n]*\n$/);
    expect(stdout).toMatch(/hive\.wav/);
    expect(await readFile(at('mixed/trains.csv'), 'utf8')).toBe(
      await readFile(at('found/trains.csv'), 'utf8'),
    );
  });

  test('nothing but bad files: one line each, nothing written, nothing claimed', async () => {
    const { code, stdout, stderr } = await combtone('detect', at('x.wav'), at('y.wav'), '--out', at('none'));
    expect({ code, stdout }).toEqual({ code: 2, stdout: '' });
    expect(stderr.match(/^combtone: .*found no such file.*$/gm)).toHaveLength(2);
    expect(await readdir(at('.'))).not.toContain('none');
  });

  test('an --out that is a file, or lies in one, is refused before the work', async () => {
    await writeFile(at('taken'), 'kept');
    for (const out of ['taken', 'taken/deeper']) {
      expectRefused(
        await combtone('detect', hive, '--out', at(out)),
        /--out: found .*taken, which is a file/,
      );
    }
    expect(await readFile(at('taken'), 'utf8')).toBe('kept');
  });

  test('a table that cannot be replaced is an error of one line, and no temporary file stays', async () => {
    await mkdir(at('blocked/trains.csv'), { recursive: true });
    expectRefused(
      await combtone('detect', hive, '--out', at('blocked')),
      /trains\.csv: found a place that cannot be written/,
    );
    expect(await readdir(at('blocked'))).toEqual(['trains.csv']);
  });

  test('the file name tells the start where the file does not, and --start where neither does', async () => {
    const silence = { sampleRateHz: 8000, encoding: 'pcm16' as const };
    const click = new Float32Array(16_000);
    click[8000] = 0.5;
    await writeWave(at('plain.wav'), { ...silence, channels: [click] });
    const { stdout } = await combtone(
      'detect',
      at('plain.wav'),
      '--start',
      '2031-06-14T09:30:00+02:00',
      '--json',
    );
    expect(JSON.parse(stdout).recordings[0]).toMatchObject({
      startTime: '2031-06-14T09:30:00+02:00',
      startTimeSource: 'option',
    });
  });
});
