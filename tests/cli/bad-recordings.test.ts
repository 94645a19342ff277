import { mkdir, readdir, writeFile } from 'node:fs/promises';
import { beforeAll, describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { ascii, type Bytes, chunk, fmtBody, int16Bytes, riff, u32 } from '../recording/wave-bytes.ts';
import { combtone, expectRefused, temporaryFolder } from './run-combtone.ts';

const at = temporaryFolder();
const random = seededRandom(51);
/** Two seconds of noise at 8000 Hz. */
const sound = int16Bytes(Array.from({ length: 16_000 }, () => Math.round(800 * random.normal())));
const fmt = (fields: Parameters<typeof fmtBody>[0] = {}) => chunk('fmt ', fmtBody(fields));

const put = async (name: string, bytes: Bytes): Promise<string> => {
  await writeFile(at(name), Uint8Array.from(bytes));
  return at(name);
};

beforeAll(async () => {
  await put('good.wav', riff(fmt(), chunk('data', sound)));
});

const REFUSED: readonly (readonly [string, Bytes, RegExp])[] = [
  ['empty', [], /found an empty file; wanted a WAVE, AIFF/],
  ['text', ascii('start_s,end_s\n1,2\n3,4\n'), /found a file that begins like no sound file/],
  ['header cut after 10 bytes', riff(fmt()).slice(0, 10), /found a file of 10 bytes, less than a header/],
  ['header cut in fmt', riff(fmt()).slice(0, 26), /fmt chunk: found 6 bytes; wanted at least 16 bytes/],
  ['header cut before data', riff(fmt()), /header: found no data chunk \(chunks: fmt\)/],
  ['no fmt chunk', riff(chunk('data', sound)), /header: found no fmt chunk \(chunks: data\)/],
  ['format 85', riff(fmt({ code: 85 }), chunk('data', sound)), /fmt chunk: found format code 0x0055 \(MP3\)/],
  [
    'unknown format',
    riff(fmt({ code: 0x1234 }), chunk('data', sound)),
    /found format code 0x1234; wanted PCM/,
  ],
  ['no channels', riff(fmt({ channelCount: 0 }), chunk('data', sound)), /found 0 channels; wanted one/],
  ['no rate', riff(fmt({ sampleRateHz: 0 }), chunk('data', sound)), /found a sample rate of 0 Hz/],
  [
    'low rate',
    riff(fmt({ sampleRateHz: 1000 }), chunk('data', sound)),
    /found a sample rate of 1000 Hz; wanted/,
  ],
  ['no samples', riff(fmt(), chunk('data', [])), /data chunk: found no samples; wanted at least one/],
  [
    'zeros',
    riff(
      fmt(),
      chunk(
        'data',
        sound.map(() => 0),
      ),
    ),
    /found nothing but zeros \(digital silence\)/,
  ],
];

describe.concurrent('combtone detect refuses, in one line and writing nothing,', () => {
  test.each(REFUSED)('a recording that is bad: %s', async (name, bytes, wanted) => {
    const file = `${name}.wav`;
    expectRefused(await combtone('detect', await put(file, bytes), '--out', at('out')), wanted);
    expect(await readdir(at('.'))).not.toContain('out');
  });

  test('a file that is not there', async () => {
    expectRefused(await combtone('detect', at('nowhere.wav')), /nowhere\.wav: found no such file; wanted/);
  });

  test('a folder', async () => {
    expectRefused(await combtone('detect', at('.')), /found a folder; wanted a WAVE, AIFF/);
  });

  test('a channel that is not there', async () => {
    expectRefused(
      await combtone('detect', at('good.wav'), '--channel', '2'),
      /--channel: found 2; wanted 1, the only channel of .*good\.wav/,
    );
  });

  test('two recordings of one name', async () => {
    await mkdir(at('other'));
    await put('other/good.wav', riff(fmt(), chunk('data', sound)));
    expectRefused(
      await combtone('detect', at('good.wav'), at('other/good.wav')),
      /other\/good\.wav: found the same file name as .*good\.wav; wanted/,
    );
  });

  test.each([
    ['--band', 'wide', /--band: found "wide"; wanted two frequencies/],
    ['--band', '400-200', /--band: found "400-200"/],
    ['--band', '200', /--band: found "200"/],
    ['--band', '200-220', /--band: found "200-220"/],
    ['--band', '0-1e9', /--band: found "0-1e9"/],
    ['--confidence', 'sure', /--confidence: found "sure"; wanted a number from 0 to 1/],
    ['--confidence', '1.5', /--confidence: found "1.5"/],
    ['--confidence', '', /--confidence: found ""/],
    ['--confidence', 'NaN', /--confidence: found "NaN"/],
    ['--channel', '0', /--channel: found "0"; wanted a whole number from 1/],
    ['--channel', '1.5', /--channel: found "1.5"/],
    ['--start', 'noon', /found "noon"/],
  ])('%s %j', async (option, value, wanted) => {
    expectRefused(await combtone('detect', at('good.wav'), option, value), wanted);
  });
});

describe.concurrent('combtone detect reads what is there, and warns, where', () => {
  const dataHeader = (statedBytes: number): Bytes => [...ascii('data'), ...u32(statedBytes)];
  const readable: readonly (readonly [string, Bytes, RegExp])[] = [
    ['the data size is 0', riff(fmt(), [...dataHeader(0), ...sound]), /data size is 0: read to the end/],
    [
      'the data size was never set',
      riff(fmt(), [...dataHeader(0xffff_ffff), ...sound]),
      /data size was never set \(0xFFFFFFFF\)/,
    ],
    [
      'the data size is too large',
      riff(fmt(), [...dataHeader(99_999), ...sound]),
      /the header says 99999 bytes, the file holds 32000/,
    ],
    [
      'the data size is too small',
      riff(fmt(), [...dataHeader(1000), ...sound]),
      /data size is too small: the header says 1000 bytes/,
    ],
    [
      'the last frame is cut',
      riff(fmt(), [...dataHeader(32_000), ...sound.slice(0, -1)]),
      /last frame is incomplete/,
    ],
  ];
  test.each(readable)('%s', async (name, bytes, wanted) => {
    const path = await put(`${name}.wav`, bytes);
    const { code, stdout, stderr } = await combtone('detect', path, '--json');
    expect(code).toBe(0);
    expect(stderr).toMatch(wanted);
    expect(stderr.split('\n').filter((line) => !/^combtone: warning: |^$/.test(line))).toEqual([]);
    const [info] = JSON.parse(stdout).recordings;
    expect(info.frameCount).toBeGreaterThanOrEqual(15_999);
    expect(info.warnings.join()).toMatch(wanted);
  });

  test('one channel of two is silent', async () => {
    const frames = sound.flatMap((byte, k) => (k % 2 === 0 ? [byte, sound[k + 1]!, 0, 0] : []));
    const path = await put('half.wav', riff(fmt({ channelCount: 2 }), chunk('data', frames)));
    const { code, stderr } = await combtone('detect', path);
    expect(code).toBe(0);
    expect(stderr).toMatch(/warning: .*channel 2 holds nothing but zeros/);
  });
});
