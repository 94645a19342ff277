import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import { describe, expect, test, vi } from 'vitest';
import { InputError } from '../../src/input-error.ts';
import { openRecording } from '../../src/recording/index.ts';
import { flacBlock, flacHead, verbatim } from './flac-bytes.ts';
import { readAll, temporaryFolder } from './wave-bytes.ts';

const { put } = temporaryFolder();
const fixture = (name: string) => fileURLToPath(new URL(`../../fixtures/sound/${name}`, import.meta.url));

async function read(path: string, channel = 1) {
  const recording = await openRecording(path);
  try {
    const { samples } = await readAll(recording, channel);
    return { info: recording.info, samples, notes: recording.notes() };
  } finally {
    await recording.close();
  }
}

const wave = (await read(fixture('run.wav'))).samples;
const bytesOf = async (name: string) => [...(await readFile(fixture(name)))];

/** Power of `wanted` over that of what differs from it, dB. */
function agreementDb(got: readonly number[], wanted: readonly number[]): number {
  let power = 0;
  let error = 0;
  for (const [k, value] of wanted.entries()) {
    power += value ** 2;
    error += (value - got[k]!) ** 2;
  }
  return 10 * Math.log10(power / error);
}

/** How many samples later `got` is: the lag of their largest cross-correlation. */
function lagOf(got: readonly number[], wanted: readonly number[]): number {
  let best = 0;
  let largest = -Infinity;
  for (let lag = -200; lag <= 200; lag++) {
    let sum = 0;
    for (let k = 400; k < 5000; k++) sum += wanted[k]! * got[k + lag]!;
    if (sum > largest) [largest, best] = [sum, lag];
  }
  return best;
}

describe('FLAC', () => {
  test('16 bits mono: the samples of the WAVE file, to the bit', async () => {
    const { info, samples, notes } = await read(fixture('run.flac'));
    expect(samples).toEqual(wave);
    expect(info).toMatchObject({ format: 'FLAC', sampleRateHz: 8000, channelCount: 1, encoding: 'pcm16' });
    expect([info.frameCount, info.warnings, notes]).toEqual([24_000, [], []]);
  });

  test('24 bits stereo: each channel told apart', async () => {
    const left = await read(fixture('run-stereo-24.flac'), 1);
    const right = await read(fixture('run-stereo-24.flac'), 2);
    expect(left.info).toMatchObject({ channelCount: 2, encoding: 'pcm24', frameCount: 8000 });
    expect(left.samples).toEqual(wave.slice(6400, 14_400));
    expect(right.samples).toEqual(left.samples.map((sample) => Math.round((sample / 2) * 2 ** 23) / 2 ** 23));
  });

  test('no length in the header, as of a coder that wrote into a pipe', async () => {
    const bytes = await bytesOf('run.flac');
    bytes.splice(22, 4, 0, 0, 0, 0);
    bytes[21]! &= 0xf0;
    const { info, samples } = await read(await put(bytes, 'piped.flac'));
    expect(samples).toEqual(wave);
    expect(info.warnings).toEqual([
      'the header tells no length: read to the last whole block, 24000 samples',
    ]);
  });

  test('cut short: whole blocks are read, with a warning', async () => {
    const bytes = (await bytesOf('run.flac')).slice(0, 20_000);
    const { info, samples } = await read(await put(bytes, 'short.flac'));
    expect(samples.length).toBeGreaterThan(8000);
    expect(samples).toEqual(wave.slice(0, samples.length));
    expect(info.warnings).toEqual([
      `sound cut short: the header says 24000 samples, the file holds ${samples.length}`,
    ]);
  });

  test.each([
    ['tell', 0x74],
    ['leave to the head of the file', 0x70],
  ])('blocks that %s their rate', async (_, codes) => {
    const values = Array.from({ length: 32 }, (_value, k) => Math.round(9000 * Math.sin(k)));
    const blocks = [0, 1, 2].flatMap((number) => flacBlock(number, 32, verbatim(values), codes));
    const { samples, notes } = await read(await put([...flacHead(32, 96), ...blocks], 'made.flac'));
    expect(samples).toEqual([...values, ...values, ...values].map((value) => value / 32_768));
    expect(notes).toEqual([]);
  });

  test('a tag behind the sound is none', async () => {
    const tag = [...'TAG'].map((letter) => letter.charCodeAt(0));
    const bytes = [...(await bytesOf('run.flac')), ...tag, ...new Array<number>(125).fill(65)];
    const { info, samples } = await read(await put(bytes, 'tagged.flac'));
    expect(samples).toEqual(wave);
    expect(info.warnings).toEqual([]);
  });
});

describe.each([
  ['run.ogg', 'Ogg Vorbis', 8000, 1, wave],
  ['run.mp3', 'MP3', 8000, 1, wave],
] as const)('%s', (name, format, sampleRateHz, channelCount, original) => {
  test('length, place on the clock and shape are those of what was coded', async () => {
    const { info, samples, notes } = await read(fixture(name));
    expect(info).toMatchObject({ format, sampleRateHz, channelCount, encoding: 'float32', warnings: [] });
    expect(info.frameCount).toBe(original.length);
    expect(lagOf(samples, original)).toBe(0);
    expect(agreementDb(samples, original)).toBeGreaterThan(8);
    expect(notes).toEqual([]);
  });
});

describe.each([
  ['run-stereo.ogg', 'Ogg Vorbis'],
  ['run-vbr-stereo.mp3', 'MP3'],
] as const)('%s', (name, format) => {
  test('44100 Hz, the right channel at half the level of the left', async () => {
    const left = await read(fixture(name), 1);
    const right = await read(fixture(name), 2);
    expect(left.info).toMatchObject({ format, sampleRateHz: 44_100, channelCount: 2, frameCount: 44_100 });
    expect(
      agreementDb(
        right.samples,
        left.samples.map((sample) => sample / 2),
      ),
    ).toBeGreaterThan(15);
  });
});

test('AIFF from another writer', async () => {
  const { info, samples } = await read(fixture('run.aiff'));
  expect(info).toMatchObject({ format: 'AIFF', sampleRateHz: 8000, encoding: 'pcm16', warnings: [] });
  expect(samples).toEqual(wave.slice(6400, 10_400));
});

describe.each([
  'run.flac',
  'run-stereo-24.flac',
  'run.ogg',
  'run-stereo.ogg',
  'run.mp3',
  'run-vbr-stereo.mp3',
])('any part of %s', (name) => {
  test('is what the whole holds there, in blocks of any size', async () => {
    const { info, samples } = await read(fixture(name));
    const recording = await openRecording(fixture(name));
    for (const [share, length, blockFrames] of [
      [0, 10, 3],
      [0.1, 5000, 65_536],
      [0.37, 1, 1],
      [0.5, 3000, 1000],
      [0.95, 1_000_000, 7777],
    ] as const) {
      const startFrame = Math.floor(share * info.frameCount);
      const part = await readAll(recording, 1, { startFrame, endFrame: startFrame + length, blockFrames });
      const wanted = samples.slice(startFrame, startFrame + length);
      expect(part.samples.length).toBe(wanted.length);
      expect(part.lengths.slice(0, -1).every((count) => count === blockFrames)).toBe(true);
      // The MP3 decoder's own rounding depends on what it decoded before.
      const largest = Math.max(...wanted.map((value, k) => Math.abs(value - part.samples[k]!)));
      expect(largest).toBeLessThan(name.endsWith('.mp3') ? 1e-6 : 1e-12);
    }
    expect(recording.notes()).toEqual([]);
    await recording.close();
  });
});

describe('damage in the middle keeps the rest in its place on the clock', () => {
  test.each([
    ['run.flac', 17_000, 0, 4000, 21_000],
    // A page of Ogg Vorbis holds more than a second.
    ['run.ogg', 4500, 0, 0, 11_000],
  ])(
    '%s: what is lost is silence, and a note says so',
    async (name, middle, firstFrom, firstTo, lastFrom) => {
      const quiet = vi.spyOn(console, 'error').mockImplementation(() => undefined);
      const whole = await read(fixture(name));
      const bytes = await bytesOf(name);
      bytes.splice(middle, 600, ...new Array<number>(600).fill(0x55));
      const { info, samples, notes } = await read(await put(bytes, `damaged-${name}`));
      expect(info.frameCount).toBe(24_000);
      expect(notes.join()).toMatch(
        /^the compressed sound is damaged in one place: [\d.]+ s taken as silence$/,
      );
      const lost = samples.filter((sample) => sample === 0).length;
      expect(lost).toBeLessThan(12_000);
      for (const range of [
        [firstFrom, firstTo],
        [lastFrom, 24_000],
      ] as const) {
        const wanted = whole.samples.slice(...range);
        const largest = Math.max(
          0,
          ...samples.slice(...range).map((sample, k) => Math.abs(sample - wanted[k]!)),
        );
        expect(largest).toBeLessThanOrEqual(1e-6);
      }
      expect(quiet).not.toHaveBeenCalled();
      quiet.mockRestore();
    },
  );

  test('run.mp3: bytes that are no frames are told', async () => {
    const bytes = await bytesOf('run.mp3');
    bytes.splice(5000, 600, ...new Array<number>(600).fill(0x55));
    const { info, samples } = await read(await put(bytes, 'damaged.mp3'));
    expect(info.warnings.join()).toMatch(/\d+ bytes between frames are no sound: passed over/);
    expect(samples.length).toBe(info.frameCount);
    expect(samples.every(Number.isFinite)).toBe(true);
  });

  test.each(['run.ogg', 'run.mp3'])('%s cut short is read as far as it goes', async (name) => {
    const bytes = (await bytesOf(name)).slice(0, 8500);
    const { info, samples } = await read(await put(bytes, `short-${name}`));
    expect(info.warnings).toHaveLength(1);
    expect(info.warnings[0]).toMatch(/cut short|without its end mark/);
    expect(samples.length).toBeGreaterThan(6000);
    expect(lagOf(samples, wave)).toBe(0);
  });
});

test.each([
  ['run.flac', 30],
  ['run.flac', 100],
  ['run.ogg', 60],
  ['run.ogg', 3000],
  ['run.mp3', 40],
  ['run.mp3', 400],
])('of %s, %i bytes are refused in one line', async (name, length) => {
  const path = await put((await bytesOf(name)).slice(0, length), `stub-${name}`);
  const error = await openRecording(path).catch((reason: unknown) => reason);
  expect(error).toBeInstanceOf(InputError);
  expect((error as Error).message).not.toContain('\n');
});
