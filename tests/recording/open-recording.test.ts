import { mkdir, symlink } from 'node:fs/promises';
import { describe, expect, test } from 'vitest';
import { InputError } from '../../src/input-error.ts';
import { openRecording } from '../../src/recording/index.ts';
import {
  ascii,
  type Bytes,
  bextChunk,
  chunk,
  extensibleBody,
  fmtBody,
  int16Bytes,
  readAll,
  riff,
  temporaryFolder,
  u16,
  u32,
} from './wave-bytes.ts';

const { path, put } = temporaryFolder();

const fmt = chunk('fmt ', fmtBody());
const fourSamples = int16Bytes([0, 16384, -32768, 32767]);
const fourValues = [0, 0.5, -1, 32767 / 32768];

async function read(bytes: Bytes, channel = 1) {
  const recording = await openRecording(await put(bytes));
  try {
    return { info: recording.info, ...(await readAll(recording, channel)), notes: recording.notes() };
  } finally {
    await recording.close();
  }
}

async function messageFor(opening: Promise<unknown>): Promise<string> {
  const error = await opening.then(
    () => null,
    (reason: unknown) => reason,
  );
  expect(error).toBeInstanceOf(InputError);
  const { message } = error as InputError;
  expect(message).not.toContain('\n');
  return message;
}

const refusal = async (bytes: Bytes) => messageFor(openRecording(await put(bytes)));

describe('sample formats, from hand-made bytes', () => {
  test('16 bits: what the header says, x / 32768', async () => {
    const { info, samples } = await read(riff(fmt, chunk('data', fourSamples)));
    expect(info).toEqual({
      path: path('recording.wav'),
      format: 'WAVE',
      sampleRateHz: 8000,
      channelCount: 1,
      frameCount: 4,
      durationS: 4 / 8000,
      encoding: 'pcm16',
      startTime: null,
      startTimeSource: null,
      warnings: [],
    });
    expect(samples).toEqual(fourValues);
  });

  test('8 bits: silence is 0 and the scale is linear over all 256 values', async () => {
    const values = Array.from({ length: 256 }, (_, value) => value);
    const { samples } = await read(riff(chunk('fmt ', fmtBody({ bits: 8 })), chunk('data', values)));
    expect(samples).toEqual(values.map((value) => (value - 128) / 128));
  });

  test('24 bits: the lowest value is -1, not +1', async () => {
    const data = [0, 0, 0, 0, 0, 0x40, 0, 0, 0x80, 1, 0, 0x80, 0xff, 0xff, 0x7f, 0xff, 0xff, 0xff];
    const { samples, info } = await read(riff(chunk('fmt ', fmtBody({ bits: 24 })), chunk('data', data)));
    expect(info.encoding).toBe('pcm24');
    expect(samples).toEqual([0, 0.5, -1, -8388607 / 8388608, 8388607 / 8388608, -1 / 8388608]);
  });

  test('32 bits', async () => {
    const data = [0, 0x4000_0000, 0x8000_0000, 0xffff_ff00, 0x7fff_ffff].flatMap(u32);
    const { samples } = await read(riff(chunk('fmt ', fmtBody({ bits: 32 })), chunk('data', data)));
    expect(samples).toEqual([0, 0.5, -1, -256 / 2147483648, 1]);
  });

  test('float of 32 and 64 bits, taken beyond ±1, NaN and infinity as 0, both noted', async () => {
    const values = [0, -0.25, 8123, Number.NaN, Number.POSITIVE_INFINITY];
    for (const bits of [32, 64]) {
      const data = [...new Uint8Array((bits === 32 ? Float32Array : Float64Array).from(values).buffer)];
      const { samples, notes, info } = await read(
        riff(chunk('fmt ', fmtBody({ code: 3, bits })), chunk('data', data)),
      );
      expect(info.encoding).toBe(`float${bits}`);
      expect(samples).toEqual([0, -0.25, 8123, 0, 0]);
      expect(notes).toEqual([
        'float samples reach 8123, beyond ±1: taken as they are',
        '2 float samples of channel 1 are NaN or infinite: taken as 0',
      ]);
    }
  });

  test('samples read twice are noted once, and tame float samples not at all', async () => {
    const float = (values: number[]): Bytes => [...new Uint8Array(Float32Array.from(values).buffer)];
    const format = chunk('fmt ', fmtBody({ code: 3, bits: 32 }));
    const odd = await openRecording(await put(riff(format, chunk('data', float([Number.NaN, 1])))));
    await readAll(odd);
    await readAll(odd);
    expect(odd.notes()).toEqual(['1 float samples of channel 1 are NaN or infinite: taken as 0']);
    await odd.close();
    const { notes } = await read(riff(format, chunk('data', float([-1, 1]))));
    expect(notes).toEqual([]);
  });

  test('extensible headers: PCM, float, and 20 valid bits in 24', async () => {
    const pcm = await read(riff(chunk('fmt ', extensibleBody()), chunk('data', fourSamples)));
    expect(pcm.samples).toEqual(fourValues);
    const floats = [...new Uint8Array(Float32Array.of(0.125).buffer)];
    const float = await read(
      riff(chunk('fmt ', extensibleBody({ code: 3, bits: 32 })), chunk('data', floats)),
    );
    expect(float.samples).toEqual([0.125]);
    expect(float.info.encoding).toBe('float32');
    const narrow = await read(
      riff(chunk('fmt ', extensibleBody({ bits: 24 }, 20)), chunk('data', [0, 0, 0x40])),
    );
    expect(narrow.samples).toEqual([0.5]);
  });

  test.each([2, 3, 32])('each of %i channels is told apart', async (channelCount) => {
    const frames = 5;
    for (const bits of [8, 16, 24]) {
      const data: number[] = [];
      for (let index = 0; index < frames * channelCount; index++) {
        const value = index % 100;
        data.push(...(bits === 8 ? [128 + value] : bits === 16 ? u16(value) : [...u16(value), 0]));
      }
      const file = await put(riff(chunk('fmt ', fmtBody({ channelCount, bits })), chunk('data', data)));
      const recording = await openRecording(file);
      expect(recording.info.frameCount).toBe(frames);
      for (let channel = 1; channel <= channelCount; channel++) {
        const { samples } = await readAll(recording, channel);
        const expected = Array.from(
          { length: frames },
          (_, frame) => (frame * channelCount + channel - 1) % 100,
        );
        expect(samples).toEqual(expected.map((value) => value / 2 ** (bits - 1)));
      }
      await recording.close();
    }
  });
});

describe('chunks', () => {
  test('other chunks before and after the data, odd sizes with a pad byte', async () => {
    const bytes = riff(
      chunk('JUNK', new Array<number>(27).fill(7)),
      fmt,
      chunk('LIST', ascii('INFOabc')),
      chunk('data', fourSamples),
      chunk('LIST', ascii('INFO!')),
      bextChunk('2025-06-14', '09:30:00'),
    );
    const { info, samples } = await read(bytes);
    expect(samples).toEqual(fourValues);
    expect(info.warnings).toEqual([]);
    expect(info.startTime).toBe('2025-06-14T09:30:00');
  });

  test('a missing pad byte, and a fmt chunk behind the data', async () => {
    const unpadded = [...ascii('junk'), ...u32(3), 1, 2, 3];
    const { samples } = await read(riff(unpadded, chunk('data', fourSamples), fmt));
    expect(samples).toEqual(fourValues);
  });

  test('two data chunks are read one behind the other, with a warning', async () => {
    const { info, samples } = await read(riff(fmt, chunk('data', fourSamples), chunk('data', fourSamples)));
    expect(samples).toEqual([...fourValues, ...fourValues]);
    expect(info.warnings).toEqual(['2 data chunks: read one behind another']);
  });

  test('8-bit sound of an odd length is no cause for a warning', async () => {
    const { info, samples } = await read(
      riff(chunk('fmt ', fmtBody({ bits: 8 })), chunk('data', [128, 192, 64]), chunk('LIST', ascii('INFO'))),
    );
    expect(samples).toEqual([0, 0.5, -0.5]);
    expect(info.warnings).toEqual([]);
  });
});

describe('files a recorder did not finish are read as far as they go', () => {
  const long = int16Bytes(Array.from({ length: 4000 }, (_, index) => 1 + (index % 30_000)));

  test('data size 0', async () => {
    const { info, samples } = await read(riff(fmt, chunk('data', fourSamples, 0)));
    expect(samples).toEqual(fourValues);
    expect(info.warnings).toEqual(['data size is 0: read to the end of the file, 8 bytes']);
  });

  test('data size -1', async () => {
    const { info, samples } = await read(riff(fmt, chunk('data', fourSamples, 0xffff_ffff)));
    expect(samples).toEqual(fourValues);
    expect(info.warnings).toEqual([
      'data size was never set (0xFFFFFFFF): read to the end of the file, 8 bytes',
    ]);
  });

  test('data size past the end of the file, and half a frame at the end', async () => {
    const { info, samples } = await read(riff(fmt, [...ascii('data'), ...u32(100), ...fourSamples, 1]));
    expect(samples).toEqual(fourValues);
    expect(info.warnings).toEqual([
      'data cut short: the header says 100 bytes, the file holds 9',
      'the last frame is incomplete: 1 of 2 bytes, passed over',
    ]);
  });

  test('data size too small', async () => {
    const { info } = await read(riff(fmt, chunk('data', long, 200)));
    expect(info.frameCount).toBe(4000);
    expect(info.warnings).toHaveLength(1);
    expect(info.warnings[0]).toContain('data size is too small: the header says 200 bytes');
  });

  test('a few odd bytes, or set-aside zeros, behind the sound are no sound', async () => {
    const tag = await read([...riff(fmt, chunk('data', fourSamples)), ...new Array<number>(128).fill(200)]);
    expect(tag.samples).toEqual(fourValues);
    expect(tag.info.warnings).toEqual(['128 bytes from byte 52 on belong to no chunk: passed over']);
    const zeros = await read([...riff(fmt, chunk('data', fourSamples)), ...new Array<number>(9000).fill(0)]);
    expect(zeros.samples).toEqual(fourValues);
    expect(zeros.info.warnings[0]).toContain('9000 bytes from byte 52 on');
  });

  test('a chunk behind the data cut short', async () => {
    const { info, samples } = await read(riff(fmt, chunk('data', fourSamples), chunk('LIST', [1, 2], 50)));
    expect(samples).toEqual(fourValues);
    expect(info.warnings).toEqual(['chunk "LIST" cut short: its header says 50 bytes, the file holds 2']);
  });
});

describe('what is no recording is refused in one line', () => {
  test('missing file, folder, unreadable file', async () => {
    expect(await messageFor(openRecording(path('none.wav')))).toBe(
      `${path('none.wav')}: found no such file; wanted a sound file that may be read`,
    );
    await mkdir(path('folder.wav'));
    expect(await messageFor(openRecording(path('folder.wav')))).toContain('found a folder');
    // A link to itself cannot be opened, not even by root.
    await symlink('loop.wav', path('loop.wav'));
    expect(await messageFor(openRecording(path('loop.wav')))).toContain('cannot be read (ELOOP)');
  });

  test.each<[string, Bytes]>([
    ['Ogg Opus', [...ascii('OggS'), ...new Array<number>(24).fill(0), ...ascii('OpusHead')]],
    ['an Ogg file without Vorbis sound', ascii('OggS')],
    ['MPEG audio of layer 2', [0xff, 0xfd, 0x90, 0x64]],
    ['MPEG-4', [0, 0, 0, 32, ...ascii('ftypM4A ')]],
    ['AVI video', [...ascii('RIFF'), 0, 0, 0, 0, ...ascii('AVI ')]],
    ['RIFX', [...ascii('RIFX'), 0, 0, 0, 0, ...ascii('WAVE')]],
  ])('a file that looks like %s', async (name, start) => {
    const message = await refusal([...start, ...new Array<number>(40).fill(0)]);
    expect(message).toContain(`found what looks like ${name}`);
    expect(message).toContain('wanted a WAVE, AIFF, FLAC, Ogg Vorbis or MP3 file');
  });

  test.each<[string, Bytes, string]>([
    ['an empty file', [], 'found an empty file'],
    ['text', ascii('start_s,end_s,duration_s\n'), 'found a file that begins like no sound file'],
    ['half a RIFF header', ascii('RIFF\0\0'), 'found a file of 6 bytes, less than a header'],
    ['a RIFF header alone', riff(), 'header: found no fmt chunk (no chunks at all)'],
    [
      'half a fmt chunk',
      riff([...ascii('fmt '), ...u32(16), ...u16(1), ...u16(1)]),
      'fmt chunk: found 4 bytes',
    ],
    ['no data chunk', riff(fmt), 'header: found no data chunk (chunks: fmt)'],
    ['no fmt chunk', riff(chunk('data', fourSamples)), 'found no fmt chunk (chunks: data)'],
    ['no samples', riff(fmt, chunk('data', [])), 'data chunk: found no samples'],
    [
      'no samples before a LIST',
      riff(fmt, chunk('data', []), chunk('LIST', ascii('INFO'))),
      'found no samples',
    ],
    ['less than a frame', riff(fmt, chunk('data', [1])), 'data chunk: found no samples'],
  ])('%s', async (_, bytes, expected) => {
    expect(await refusal(bytes)).toContain(expected);
  });

  test.each<[string, Bytes, string]>([
    ['IMA ADPCM', fmtBody({ code: 0x11 }), 'fmt chunk: found format code 0x0011 (IMA ADPCM)'],
    ['an unknown code', fmtBody({ code: 0xabc }), 'found format code 0x0ABC;'],
    ['an unknown code, extensible', extensibleBody({ code: 7 }), 'found format code 0x0007 (mu-law)'],
    ['another GUID', [...extensibleBody().slice(0, 39), 0], 'subformat 00000001-0000-0010-8000-00AA00389B00'],
    ['half an extensible header', extensibleBody().slice(0, 18), 'found an extensible header of 18 bytes'],
    ['zero channels', fmtBody({ channelCount: 0 }), 'found 0 channels'],
    ['zero rate', fmtBody({ sampleRateHz: 0 }), 'found a sample rate of 0 Hz'],
    ['block align', fmtBody({ channelCount: 2, blockAlign: 2 }), 'found a block align of 2 bytes; wanted 4'],
    ['float of 16 bits', fmtBody({ code: 3 }), 'found float samples of 16 bits'],
    ['PCM of 64 bits', fmtBody({ bits: 64 }), 'found PCM samples of 64 bits'],
    ['PCM of 0 bits', fmtBody({ bits: 0 }), 'found PCM samples of 0 bits'],
  ])('header: %s', async (_, body, expected) => {
    expect(await refusal(riff(chunk('fmt ', body), chunk('data', fourSamples)))).toContain(expected);
  });

  test('a channel that is not there', async () => {
    const recording = await openRecording(await put(riff(fmt, chunk('data', fourSamples))));
    for (const channel of [0, 2, 1.5, -1, Number.NaN]) {
      expect(() => recording.blocks(channel)).toThrow(InputError);
    }
    expect(() => recording.blocks(2)).toThrow(/^--channel: found 2; wanted 1, the only channel of /);
    await recording.close();
  });
});

describe('start time', () => {
  const plain = riff(fmt, chunk('data', fourSamples));
  const dated = riff(bextChunk('2025-06-14', '09:30:00'), fmt, chunk('data', fourSamples));
  const startOf = async (bytes: Bytes, name: string, startTime?: string) => {
    const recording = await openRecording(
      await put(bytes, name),
      startTime === undefined ? {} : { startTime },
    );
    await recording.close();
    const { startTime: time, startTimeSource, warnings } = recording.info;
    return [time, startTimeSource, warnings.length];
  };

  test('bext, then file name, then option, then unknown', async () => {
    const option = '2025-01-02T03:04:05+01:00';
    expect(await startOf(dated, '20240101_000000.wav', option)).toEqual(['2025-06-14T09:30:00', 'bext', 1]);
    expect(await startOf(plain, '20240101_000000.wav')).toEqual(['2024-01-01T00:00:00', 'file name', 0]);
    expect(await startOf(plain, '20240101_000000.wav', option)).toEqual([
      '2024-01-01T00:00:00',
      'file name',
      1,
    ]);
    expect(await startOf(plain, 'hive.wav', option)).toEqual([option, 'option', 0]);
    expect(await startOf(plain, 'hive.wav')).toEqual([null, null, 0]);
  });

  test('an empty bext time is passed over in silence, a wrong one with a warning', async () => {
    const withBext = (date: string, time: string) =>
      riff(bextChunk(date, time), fmt, chunk('data', fourSamples));
    expect(await startOf(withBext('', ''), 'hive.wav')).toEqual([null, null, 0]);
    expect(await startOf(withBext('0000-00-00', '00:00:00'), 'hive.wav')).toEqual([null, null, 0]);
    expect(await startOf(withBext('2025-02-30', '09:30:00'), 'hive.wav')).toEqual([null, null, 1]);
    expect(await startOf(withBext('2025_06_14', '09-30-00'), 'hive.wav')).toEqual([
      '2025-06-14T09:30:00',
      'bext',
      0,
    ]);
    const short = riff(chunk('bext', [1, 2, 3, 4]), fmt, chunk('data', fourSamples));
    expect(await startOf(short, 'hive.wav')).toEqual([null, null, 1]);
  });

  test('an option that is no time is refused, even when it would not be used', async () => {
    const file = await put(dated);
    const message = await messageFor(openRecording(file, { startTime: 'noon' }));
    expect(message).toBe(
      '--start-time: found "noon"; wanted a date and time such as 2025-06-14T09:30:00+02:00',
    );
  });
});
