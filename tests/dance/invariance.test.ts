import { beforeAll, describe, expect, test, vi } from 'vitest';
import { intersectionOverUnion } from '../../src/dance/agreement.ts';
import { detectSounds } from '../../src/dance/detect.ts';
import type { FoundTrain } from '../../src/dance/detect-segment.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { medianOf } from '../../src/signal/quantile.ts';
import { simulateSound } from '../../src/simulate/index.ts';

vi.setConfig({ testTimeout: 60_000 });

const RATE_HZ = 8000;
const LENGTH_S = 60;

async function detect(samples: Float32Array, sampleRateHz = RATE_HZ): Promise<readonly FoundTrain[]> {
  const blocks = async function* () {
    yield samples;
  };
  const channels = [{ channel: 1, blocks: blocks() }];
  return (await detectSounds(channels, sampleRateHz, DEFAULT_SETTINGS)).trains;
}

let samples: Float32Array;
let plain: readonly FoundTrain[];
beforeAll(async () => {
  const sound = await simulateSound({ seed: 8401, lengthS: LENGTH_S, snrDb: 10, dancesPerHour: 240 });
  samples = sound.channels[0]!;
  plain = await detect(samples);
  expect(plain.length).toBeGreaterThan(10);
});

/** The same runs, the same to 2 ms at either end. */
function expectSameRuns(found: readonly FoundTrain[]): void {
  expect(found).toHaveLength(plain.length);
  found.forEach((train, k) => {
    expect(Math.abs(train.startS - plain[k]!.startS)).toBeLessThan(0.002);
    expect(Math.abs(train.endS - plain[k]!.endS)).toBeLessThan(0.002);
  });
}

describe('what is found does not depend on', () => {
  test.each([
    ['a gain of 0.01', (x: number) => 0.01 * x],
    ['a gain of 100', (x: number) => 100 * x],
    ['polarity', (x: number) => -x],
    ['an offset as large as the sound', (x: number) => x + 0.3],
  ])('%s', async (_, change) => {
    expectSameRuns(await detect(samples.map(change)));
  });
});

/**
 * The sound between its samples, by the sampling theorem with a Hann-tapered sinc. Where the new samples lie between
 * the old ones recurs, after 441 at 44.1 kHz, and so do the weights.
 */
function resampled(rateHz: number): Float32Array {
  const reach = 16;
  const shared = greatestCommonDivisor(RATE_HZ, rateHz);
  const [step, phases] = [RATE_HZ / shared, rateHz / shared];
  const weightsOf = Array.from({ length: phases }, (_, phase) =>
    Float64Array.from({ length: 2 * reach }, (_, k) => {
      const x = phase / phases + reach - 1 - k;
      if (x === 0) return 1;
      const taper = 0.5 + 0.5 * Math.cos((Math.PI * x) / (reach + 1));
      return (Math.sin(Math.PI * x) / (Math.PI * x)) * taper;
    }),
  );
  return Float32Array.from({ length: Math.floor((samples.length * phases) / step) }, (_, n) => {
    const first = Math.floor((n * step) / phases) - reach + 1;
    const weights = weightsOf[(n * step) % phases]!;
    let sum = 0;
    for (let k = 0; k < weights.length; k++) sum += (samples[first + k] ?? 0) * weights[k]!;
    return sum;
  });
}

function greatestCommonDivisor(a: number, b: number): number {
  return b === 0 ? a : greatestCommonDivisor(b, a % b);
}

const stretch = ({ startS, endS }: FoundTrain) => ({ recording: 'one', start_s: startS, end_s: endS });

// A rate that 2 kHz does not divide is searched at another rate (2004.5 Hz for 44.1 kHz), with other frames: what
// stands at the edge of being listed may differ, and ends differ by a fraction of a frame.
describe('the same sound at another sample rate', () => {
  test.each([16_000, 22_050, 44_100, 48_000, 192_000])('%d Hz', async (rateHz) => {
    const found = await detect(resampled(rateHz), rateHz);
    const pairs = plain.flatMap((train) => {
      const other = found.find((one) => intersectionOverUnion(stretch(train), stretch(one)) >= 0.5);
      return other === undefined ? [] : [{ train, other }];
    });
    expect(pairs.length).toBeGreaterThanOrEqual(plain.length - 1);
    expect(found.length).toBeLessThanOrEqual(plain.length + 1);
    const apart = pairs.flatMap(({ train, other }) => [
      Math.abs(train.startS - other.startS),
      Math.abs(train.endS - other.endS),
    ]);
    expect(medianOf(apart)).toBeLessThan(0.002);
  });
});
