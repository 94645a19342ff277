import { readdir, readFile, truncate } from 'node:fs/promises';
import { dirname } from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { InputError } from '../../src/input-error.ts';
import { seededRandom } from '../../src/random.ts';
import { createWaveWriter, openRecording, type WaveEncoding, writeWave } from '../../src/recording/index.ts';
import { int16Bytes, readAll, temporaryFolder } from './wave-bytes.ts';

const { path } = temporaryFolder();
const encodings = ['pcm8', 'pcm16', 'pcm24', 'pcm32', 'float32', 'float64'] as const;
const fullScale: Record<WaveEncoding, number> = {
  pcm8: 2 ** 7,
  pcm16: 2 ** 15,
  pcm24: 2 ** 23,
  pcm32: 2 ** 31,
  float32: 2 ** 23,
  float64: 2 ** 23,
};

/** Channels of samples that the encoding holds exactly, its lowest value and 0 first. */
function channelsFor(encoding: WaveEncoding, channelCount: number, frameCount: number, seed: number) {
  const random = seededRandom(seed);
  const scale = fullScale[encoding];
  // A Float32Array holds 24 bits, so larger 32-bit integers step by 256.
  const step = encoding === 'pcm32' ? 256 : 1;
  return Array.from({ length: channelCount }, () =>
    new Float32Array(frameCount).map((_, frame) => {
      if (frame < 2) return frame === 0 ? -1 : 0;
      return (Math.floor(random.between(-scale, scale) / step) * step) / scale;
    }),
  );
}

describe('what is written is read again exactly', () => {
  test.each(encodings)('%s, any channel count, length and block size', async (encoding) => {
    await fc.assert(
      fc.asyncProperty(
        fc.integer({ min: 1, max: 32 }),
        fc.integer({ min: 1, max: 300 }),
        fc.integer({ min: 1, max: 400 }),
        fc.integer(),
        async (channelCount, frameCount, blockFrames, seed) => {
          const channels = channelsFor(encoding, channelCount, frameCount, seed);
          const file = path(`${encoding}.wav`);
          await writeWave(file, { sampleRateHz: 8000, encoding, channels });
          const recording = await openRecording(file);
          expect(recording.info).toMatchObject({ channelCount, frameCount, encoding, warnings: [] });
          for (const [index, channel] of channels.entries()) {
            const { samples, lengths } = await readAll(recording, index + 1, { blockFrames });
            expect(samples).toEqual([...channel]);
            expect(lengths.slice(0, -1).every((length) => length === blockFrames)).toBe(true);
          }
          await recording.close();
        },
      ),
      { numRuns: 25 },
    );
  });
});

describe('blocks', () => {
  const frameCount = 700_000;

  test('any range, in blocks of any size, gives the same samples', async () => {
    // Long enough for several reads of the file.
    const channels = channelsFor('pcm16', 2, frameCount, 7);
    const file = path('long.wav');
    await writeWave(file, { sampleRateHz: 48_000, encoding: 'pcm16', channels });
    const recording = await openRecording(file);
    await fc.assert(
      fc.asyncProperty(
        fc.integer({ min: 0, max: frameCount }),
        fc.integer({ min: 0, max: frameCount + 1000 }),
        fc.oneof(fc.integer({ min: 500, max: 5000 }), fc.integer({ min: 5000, max: frameCount })),
        fc.constantFrom(1, 2),
        async (startFrame, endFrame, blockFrames, channel) => {
          const expected = channels[channel - 1]!.subarray(startFrame, Math.max(startFrame, endFrame));
          let at = 0;
          for await (const block of recording.blocks(channel, { startFrame, endFrame, blockFrames })) {
            const isLast = at + block.length === expected.length;
            expect(block.length === blockFrames || isLast).toBe(true);
            expect(Buffer.compare(bytesOf(block), bytesOf(expected.subarray(at, at + block.length)))).toBe(0);
            at += block.length;
          }
          expect(at).toBe(expected.length);
        },
      ),
      {
        numRuns: 30,
        examples: [
          [0, frameCount, frameCount, 1],
          [frameCount, frameCount, 1000, 2],
        ],
      },
    );
    await recording.close();
  });

  test('two channels can be read at once, and a reader may stop early', async () => {
    const channels = channelsFor('pcm24', 2, 400_000, 8);
    const file = path('two.wav');
    await writeWave(file, { sampleRateHz: 48_000, encoding: 'pcm24', channels });
    const recording = await openRecording(file);
    const [left, right] = [recording.blocks(1), recording.blocks(2)];
    const [first, second] = [await left.next(), await right.next()];
    expect(first.value![5]).toBe(channels[0]![5]);
    expect(second.value![5]).toBe(channels[1]![5]);
    await left.return(undefined);
    await right.return(undefined);
    expect((await left.next()).done).toBe(true);
    await recording.close();
    await recording.close();
  });

  test('a file that shrinks while it is read is an error that names the frame', async () => {
    const file = path('shrinking.wav');
    await writeWave(file, { sampleRateHz: 8000, encoding: 'pcm16', channels: [new Float32Array(1000)] });
    const recording = await openRecording(file);
    await truncate(file, 44 + 200);
    await expect(readAll(recording)).rejects.toThrow(/shrinking\.wav, frame 100: found the end of the file/);
    await recording.close();
  });

  test('block options that make no sense are refused', async () => {
    const file = path('short.wav');
    await writeWave(file, { sampleRateHz: 8000, encoding: 'pcm16', channels: [new Float32Array(10)] });
    const recording = await openRecording(file);
    for (const options of [{ blockFrames: 0 }, { startFrame: -1 }, { endFrame: 1.5 }]) {
      expect(() => recording.blocks(1, options)).toThrow(RangeError);
    }
    await recording.close();
  });
});

describe('writing', () => {
  test('mono 16 bits, byte by byte', async () => {
    const file = path('bytes.wav');
    const channels = [Float32Array.of(0, 0.5, -1, 1, 1.5)];
    const written = await writeWave(file, { sampleRateHz: 8000, encoding: 'pcm16', channels });
    expect(written).toEqual({ frameCount: 5, clippedSampleCount: 1 });
    const bytes = await readFile(file);
    expect(bytes.toString('latin1', 0, 4)).toBe('RIFF');
    expect(bytes.readUInt32LE(4)).toBe(bytes.length - 8);
    expect([...bytes.subarray(44)]).toEqual(int16Bytes([0, 16384, -32768, 32767, 32767]));
  });

  test('the streaming writer takes blocks of any length and keeps the start time', async () => {
    const channels = channelsFor('float32', 3, 1000, 3);
    const file = path('streamed.wav');
    const startTime = '2025-06-14T09:30:00+02:00';
    const options = { sampleRateHz: 96_000, channelCount: 3, encoding: 'float32', startTime } as const;
    const writer = await createWaveWriter(file, options);
    for (const [from, to] of [
      [0, 1],
      [1, 1],
      [1, 700],
      [700, 1000],
    ]) {
      await writer.write(channels.map((samples) => samples.subarray(from, to)));
    }
    expect(await namesBeside(file)).not.toContain('streamed.wav');
    expect(await writer.finish()).toEqual({ frameCount: 1000, clippedSampleCount: 0 });
    const recording = await openRecording(file);
    expect(recording.info).toMatchObject({
      frameCount: 1000,
      sampleRateHz: 96_000,
      startTime: '2025-06-14T09:30:00',
      startTimeSource: 'bext',
      warnings: [],
    });
    expect((await readAll(recording, 3)).samples).toEqual([...channels[2]!]);
    await recording.close();
    await writer.abort();
    expect(await namesBeside(file)).toContain('streamed.wav');
    await expect(writer.finish()).rejects.toThrow('finished or aborted');
  });

  test('nothing is left behind when writing is aborted or fails', async () => {
    const file = path('aborted.wav');
    const options = { sampleRateHz: 8000, channelCount: 1, encoding: 'pcm16' } as const;
    const aborted = await createWaveWriter(file, options);
    await aborted.write([new Float32Array(10)]);
    await aborted.abort();
    const failed = await createWaveWriter(file, options);
    await expect(failed.write([Float32Array.of(Number.NaN)])).rejects.toThrow(RangeError);
    const uneven = await createWaveWriter(file, { ...options, channelCount: 2 });
    await expect(uneven.write([new Float32Array(1), new Float32Array(2)])).rejects.toThrow(RangeError);
    expect((await namesBeside(file)).filter((name) => name.startsWith('aborted'))).toEqual([]);
  });

  test('calls that overlap are refused, since both would write from one buffer', async () => {
    const file = path('overlap.wav');
    const writer = await createWaveWriter(file, { sampleRateHz: 8000, channelCount: 1, encoding: 'pcm16' });
    const first = writer.write([new Float32Array(10)]);
    await expect(writer.write([new Float32Array(10)])).rejects.toThrow('called again');
    await first;
    await writer.abort();
  });

  test('a folder that is not there, a wrong start time, a wrong rate', async () => {
    const shape = { sampleRateHz: 8000, encoding: 'pcm16', channels: [new Float32Array(1)] } as const;
    await expect(writeWave(path('no/such/x.wav'), shape)).rejects.toThrow(InputError);
    await expect(writeWave(path('x.wav'), { ...shape, startTime: 'noon' })).rejects.toThrow(InputError);
    await expect(writeWave(path('x.wav'), { ...shape, startTime: '2025-06-14T09:30:00.5' })).rejects.toThrow(
      /whole second/,
    );
    await expect(writeWave(path('x.wav'), { ...shape, sampleRateHz: 0 })).rejects.toThrow(RangeError);
    await expect(writeWave(path('x.wav'), { ...shape, channels: [] })).rejects.toThrow(RangeError);
    expect(await namesBeside(path('x.wav'))).not.toContain('x.wav');
  });
});

const namesBeside = (file: string) => readdir(dirname(file));

function bytesOf(samples: Float32Array): Uint8Array {
  return new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength);
}
