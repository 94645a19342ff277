import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { writeWave } from '../../src/recording/index.ts';
import { simulateSound } from '../../src/simulate/index.ts';
import { detectRecording } from '../../src/study/detect-recording.ts';

const folder = await mkdtemp(join(tmpdir(), 'combtone-drop-outs-'));
afterAll(() => rm(folder, { recursive: true, force: true }));

const RATE_HZ = 8000;
const options = { seed: 8420, lengthS: 60, sampleRateHz: RATE_HZ, snrDb: 12, dancesPerHour: 240 };
/** Where the card was too slow: ten stretches of zeros, s. */
const drops = Array.from({ length: 10 }, (_, k) => [5.5 * k + 3, 5.5 * k + 3 + 0.05 * (k + 1)] as const);

test('stretches of zeros are counted, and cost the runs in them alone', async () => {
  const { channels, truth } = await simulateSound(options);
  const whole = channels[0]!;
  const torn = whole.slice();
  for (const [fromS, toS] of drops) torn.fill(0, Math.round(fromS * RATE_HZ), Math.round(toS * RATE_HZ));
  const found = async (name: string, samples: Float32Array) => {
    const path = join(folder, name);
    await writeWave(path, { sampleRateHz: RATE_HZ, encoding: 'pcm16', channels: [samples] });
    return detectRecording(path, { settings: DEFAULT_SETTINGS, channels: [] });
  };
  const [before, after] = [await found('whole.wav', whole), await found('torn.wav', torn)];
  expect(before.channels[0]!.dropOutCount).toBe(0);
  const health = after.channels[0]!;
  expect(health.dropOutCount).toBe(drops.length);
  expect(health.dropOutS).toBeCloseTo(
    drops.reduce((sum, [fromS, toS]) => sum + toS - fromS, 0),
    1,
  );
  const near = (startS: number, endS: number) =>
    drops.some(([fromS, toS]) => startS < toS + 0.2 && endS > fromS - 0.2);
  const apart = before.trains.filter(({ start_s, end_s }) => !near(start_s, end_s));
  expect(apart.length).toBeGreaterThan(5);
  const again = apart.filter(({ start_s, end_s }) =>
    after.trains.some((one) => Math.abs(one.start_s - start_s) < 0.05 && Math.abs(one.end_s - end_s) < 0.05),
  );
  expect(again.length).toBe(apart.length);
  // The edges of a drop-out are clicks, and no runs.
  const bees = [...truth.trains, ...before.trains];
  const invented = after.trains.filter(
    ({ start_s, end_s }) =>
      near(start_s, end_s) && !bees.some((one) => one.start_s < end_s && one.end_s > start_s),
  );
  expect(invented).toEqual([]);
}, 60_000);
