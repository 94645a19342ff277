import { createHash } from 'node:crypto';
import fc from 'fast-check';
import { beforeAll, describe, expect, test, vi } from 'vitest';
import { type Detection, detectSounds } from '../../src/dance/detect.ts';
import { type Segment, segmentsOf } from '../../src/dance/segments.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { seededRandom } from '../../src/random.ts';
import { simulateSound } from '../../src/simulate/index.ts';

vi.setConfig({ testTimeout: 30_000 });

/** Samples in blocks of these lengths in turn, each block overwritten once the next is asked for. */
async function* cut(samples: Float32Array, lengths: readonly number[]): AsyncGenerator<Float32Array> {
  const buffer = new Float32Array(Math.max(...lengths));
  let at = 0;
  for (let k = 0; at < samples.length; k++) {
    const length = Math.min(lengths[k % lengths.length]!, samples.length - at);
    buffer.fill(Number.NaN);
    buffer.set(samples.subarray(at, at + length));
    yield buffer.subarray(0, length);
    at += length;
  }
}

const segmentsFrom = async (samples: Float32Array, rateHz: number, lengths: readonly number[]) => {
  const segments: Segment[] = [];
  for await (const segment of segmentsOf(cut(samples, lengths), rateHz)) segments.push(segment);
  return segments;
};

/** A segment with its samples as a checksum: millions of them are not for an assertion to walk through. */
const summary = ({ samples, ...rest }: Segment) => ({
  ...rest,
  length: samples.length,
  sha256: createHash('sha256').update(samples).digest('hex'),
});

const cuts = fc.array(fc.integer({ min: 500, max: 400_000 }), { minLength: 1, maxLength: 6 });

describe('segmentsOf', () => {
  test.each([2000, 8000])('cuts alike whatever the blocks, at %d Hz', async (rateHz) => {
    const random = seededRandom(71);
    const samples = Float32Array.from({ length: 330 * rateHz + 17 }, () => random.uniform() - 0.5);
    const whole = (await segmentsFrom(samples, rateHz, [samples.length])).map(summary);
    await fc.assert(
      fc.asyncProperty(cuts, async (lengths) => {
        expect((await segmentsFrom(samples, rateHz, lengths)).map(summary)).toEqual(whole);
      }),
      { numRuns: 3, seed: 11 },
    );
  });

  test.each([0.2, 60, 119.9, 120, 134, 134.001, 240, 374, 600])(
    '%d s: cores fill the time, once',
    async (lengthS) => {
      const rateHz = 2000;
      const samples = Float32Array.from({ length: Math.round(lengthS * rateHz) }, (_, n) => n % 251);
      const segments = await segmentsFrom(samples, rateHz, [100_000]);
      expect(segments[0]!.coreStartS).toBe(Number.NEGATIVE_INFINITY);
      expect(segments.at(-1)!.coreEndS).toBe(Number.POSITIVE_INFINITY);
      segments.forEach((segment, k) => {
        if (k > 0) {
          expect(segment.coreStartS).toBe(segments[k - 1]!.coreEndS);
          // What is centred at the seam is heard whole by either.
          expect(segment.startS).toBeLessThanOrEqual(segment.coreStartS - 10);
        }
        const first = Math.round(segment.startS * rateHz);
        const there = samples.slice(first, first + segment.samples.length);
        expect(summary(segment)).toEqual(summary({ ...segment, samples: there }));
        // No segment is longer than memory was meant to hold.
        expect(segment.samples.length).toBeLessThanOrEqual(160 * rateHz);
      });
      const last = segments.at(-1)!;
      expect(last.startS + last.samples.length / rateHz).toBeCloseTo(lengthS, 9);
    },
  );

  test('an empty stream has no segments', async () => {
    expect(await segmentsFrom(new Float32Array(0), 8000, [100])).toEqual([]);
  });
});

describe('detectSounds', () => {
  let samples: Float32Array;
  let whole: Detection;
  const detect = (lengths: readonly number[]) =>
    detectSounds([{ channel: 1, blocks: cut(samples, lengths) }], 8000, DEFAULT_SETTINGS);
  beforeAll(async () => {
    // Long enough for a seam between two segments, with dancers on either side of it.
    const sound = await simulateSound({ seed: 8201, lengthS: 150, snrDb: 10, dancesPerHour: 200 });
    samples = sound.channels[0]!;
    whole = await detect([samples.length]);
  });

  test('finds exactly the same whatever the blocks', async () => {
    expect(whole.trains.length).toBeGreaterThan(10);
    await fc.assert(
      fc.asyncProperty(cuts, async (lengths) => {
        expect(await detect(lengths)).toEqual(whole);
      }),
      { numRuns: 2, seed: 12, examples: [[[4096]]] },
    );
  });

  test('gives trains in order, timed within the recording, each in a dance', () => {
    whole.trains.forEach((train, k) => {
      if (k > 0) expect(train.startS).toBeGreaterThanOrEqual(whole.trains[k - 1]!.startS);
      expect(train.endS).toBeGreaterThan(train.startS);
      expect(train.startS).toBeGreaterThan(0);
      expect(train.endS).toBeLessThan(150);
      expect(Number.isInteger(train.dance) && train.dance >= 0).toBe(true);
      expect(train.pulseTimesS.every((timeS) => timeS > train.startS && timeS < train.endS)).toBe(true);
    });
  });
});
