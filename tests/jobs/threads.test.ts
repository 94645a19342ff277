import { readFile } from 'node:fs/promises';
import { beforeAll, describe, expect, test, vi } from 'vitest';
import { detectSounds, type SegmentSearch } from '../../src/dance/detect.ts';
import { detectInSegment } from '../../src/dance/detect-segment.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { InputError } from '../../src/input-error.ts';
import { detectOverThreads, wholeRecordings } from '../../src/jobs/detect-over-threads.ts';
import { seededRandom } from '../../src/random.ts';
import { detectInTurn, type RecordingOutcome, type RecordingTask } from '../../src/study/detect-all.ts';
import { combtone, expectRefused } from '../cli/run-combtone.ts';
import { RATE_HZ, recorded, simulatedChannels, temporaryFolder } from './made-recordings.ts';

// Many processes are started, on a machine that may be busy with others.
vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

const at = temporaryFolder('threads');
let channels: readonly Float32Array[];
let hive = '';
let stereo = '';
let stereoInTurn: RecordingOutcome | undefined;
beforeAll(async () => {
  channels = await simulatedChannels();
  hive = await recorded(at('hive.wav'), [channels[0]!.subarray(0, 30 * RATE_HZ)]);
  stereo = await recorded(at('stereo.wav'), channels);
  [stereoInTurn] = await outcomesOf(detectInTurn([taskOf(stereo)], {}));
}, 60_000);

const taskOf = (path: string): RecordingTask => ({ path, settings: DEFAULT_SETTINGS, channels: [] });

async function outcomesOf(outcomes: AsyncIterable<RecordingOutcome>): Promise<RecordingOutcome[]> {
  const all: RecordingOutcome[] = [];
  for await (const outcome of outcomes) all.push(outcome);
  return all;
}

describe('detection over threads', () => {
  test.each([2, 4])(
    '%d threads find exactly what one finds, where one recording is cut up',
    async (threads) => {
      const [outcome] = await outcomesOf(detectOverThreads(threads, 0)([taskOf(stereo)], {}));
      expect(outcome).toEqual(stereoInTurn);
      if (!outcome?.ok) throw new Error('not detected');
      expect(outcome.found.pulseTimesS.size).toBe(outcome.found.trains.length);
    },
  );

  test('the command writes the same bytes on 1, 2 and 4 threads, and those kept in fixtures/detected', async () => {
    // As long as the command wants it before it takes threads.
    expect(channels.length * channels[0]!.length).toBe(300 * RATE_HZ);
    for (const threads of ['1', '2', '4']) {
      const { code, stderr } = await combtone(
        'detect',
        stereo,
        '--threads',
        threads,
        '--out',
        at(`out-${threads}`),
      );
      expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    }
    for (const name of ['trains.csv', 'calls.csv', 'dances.csv']) {
      const [one, two, four] = await Promise.all(
        ['1', '2', '4'].map((threads) => readFile(at(`out-${threads}/${name}`), 'utf8')),
      );
      expect(two).toBe(one);
      expect(four).toBe(one);
      await expect(one).toMatchFileSnapshot(`../../fixtures/detected/${name}`);
    }
  });

  test('several recordings, one of them none: each outcome in its place, as one after another', async () => {
    const names = ['nowhere.wav', 'stereo-2.wav', 'hive-2.wav', 'hive-3.wav'];
    const tasks = [hive, ...names.map(at)].map(taskOf);
    const excerpt = (channel: number, fromS: number, toS: number) =>
      channels[channel]!.subarray(fromS * RATE_HZ, toS * RATE_HZ);
    await recorded(at('stereo-2.wav'), [excerpt(0, 30, 60), excerpt(1, 30, 60)]);
    await recorded(at('hive-2.wav'), [excerpt(1, 0, 40)]);
    await recorded(at('hive-3.wav'), [excerpt(0, 60, 85)]);
    const inTurn = await outcomesOf(detectInTurn(tasks, {}));
    const progress = tasks.map(() => 0);
    const onProgress = (task: number, searchedS: number, durationS: number) => {
      progress[task] = searchedS / durationS;
    };
    const overThreads = await outcomesOf(detectOverThreads(2, 0)(tasks, { onProgress }));
    expect(overThreads).toEqual(inTurn);
    expect(overThreads.map(({ ok }) => ok)).toEqual([true, false, true, true, true]);
    // All different, and none empty: what came in another's place would show.
    const found = inTurn.flatMap((outcome) => (outcome.ok ? [outcome.found.trains] : []));
    expect(Math.min(...found.map((trains) => trains.length))).toBeGreaterThan(0);
    expect(new Set(found.map((trains) => JSON.stringify(trains))).size).toBe(4);
    expect(overThreads[1]).toMatchObject({ error: expect.any(InputError) });
    // The last is cut up here, and so told to its end.
    expect(progress[4]).toBeCloseTo(1, 9);
  });

  test('no more is begun than two recordings for each thread until the first of them has been taken', async () => {
    const path = await recorded(at('short.wav'), [channels[0]!.subarray(0, 10 * RATE_HZ)]);
    const tasks = Array.from({ length: 12 }, () => taskOf(path));
    const done = new Set<number>();
    const onProgress = (task: number, searchedS: number, durationS: number) => {
      if (searchedS >= durationS) done.add(task);
    };
    let taken = 0;
    for await (const { ok } of detectOverThreads(2, 0)(tasks, { onProgress })) {
      expect(ok).toBe(true);
      if (++taken > 2) continue;
      // As a study that is slow to keep what was found: threads have all the time to run ahead.
      await vi.waitUntil(() => done.size === taken + 3, { timeout: 30_000 });
      await new Promise((resolve) => setTimeout(resolve, 600));
      expect([...done].sort((a, b) => a - b)).toEqual(Array.from({ length: taken + 3 }, (_, k) => k));
    }
    expect(taken).toBe(12);
  });

  test('given up, it ends with the reason', async () => {
    const controller = new AbortController();
    const tasks = Array.from({ length: 4 }, () => taskOf(hive));
    const outcomes = detectOverThreads(2, 0)(tasks, { signal: controller.signal });
    await expect(
      (async () => {
        for await (const { ok } of outcomes) {
          expect(ok).toBe(true);
          controller.abort(new Error('enough'));
        }
      })(),
    ).rejects.toThrow('enough');
  });

  test.each([
    [1, 2, 0],
    [2, 2, 2],
    [3, 2, 2],
    [7, 4, 4],
    [15, 16, 15],
    [20, 16, 16],
    [24, 16, 24],
  ])('of %d recordings on %d threads %d are read by a thread each', (recordings, threads, whole) => {
    expect(wholeRecordings(recordings, threads)).toBe(whole);
  });

  test('--threads wants a whole number from 1', async () => {
    expectRefused(
      await combtone('detect', hive, '--threads', '0'),
      /--threads: found "0"; wanted a whole number from 1/,
    );
  });
});

describe('detectSounds', () => {
  async function* whole(samples: Float32Array): AsyncGenerator<Float32Array> {
    yield samples;
  }

  test('finds the same in whatever order segments are searched, with no more under way than allowed', async () => {
    const random = seededRandom(5);
    let underWay = 0;
    let most = 0;
    const search: SegmentSearch['search'] = async (segment, settings) => {
      most = Math.max(most, ++underWay);
      // As a transfer to another thread does it.
      const own = {
        ...segment,
        samples: structuredClone(segment.samples, { transfer: [segment.samples.buffer as ArrayBuffer] }),
      };
      await new Promise((resolve) => setTimeout(resolve, 40 * random.uniform()));
      underWay--;
      return detectInSegment(own, settings);
    };
    const given = () => channels.map((samples, k) => ({ channel: k + 1, blocks: whole(samples) }));
    const here = await detectSounds(given(), RATE_HZ, DEFAULT_SETTINGS);
    const told: [number, number][] = [];
    const elsewhere = await detectSounds(given(), RATE_HZ, DEFAULT_SETTINGS, {
      segmentSearch: { search, atOnce: 3 },
      onProgress: (channel, searchedS) => told.push([channel, searchedS]),
    });
    expect(elsewhere).toEqual(here);
    expect(here.trains.length).toBeGreaterThan(10);
    expect(most).toBe(3);
    expect(told.map(([channel]) => channel)).toEqual([0, 0, 1, 1]);
  });

  test('a search that fails ends the detection with its error', async () => {
    const search = () => Promise.reject(new Error('a thread died'));
    const given = channels.map((samples, k) => ({ channel: k + 1, blocks: whole(samples) }));
    await expect(
      detectSounds(given, RATE_HZ, DEFAULT_SETTINGS, { segmentSearch: { search, atOnce: 4 } }),
    ).rejects.toThrow('a thread died');
  });
});
