import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { fuzz, mutated, readBytes } from './fuzz-mutations.ts';
import {
  ascii,
  type Bytes,
  bextChunk,
  chunk,
  chunk64,
  extensibleBody,
  fmtBody,
  int16Bytes,
  rf64,
  riff,
  u32,
  wave64,
} from './wave-bytes.ts';

const fmt = chunk('fmt ', fmtBody());
const sound = int16Bytes(Array.from({ length: 60 }, (_, k) => Math.round(9000 * Math.sin(k))));
const floats: Bytes = [...new Uint8Array(Float32Array.from([0, 0.5, -1, 2, Number.NaN]).buffer)];
const doubles: Bytes = [...new Uint8Array(Float64Array.from([0, 0.5, -1, 1e300]).buffer)];
const be16 = (value: number): Bytes => [(value >> 8) & 255, value & 255];
const be32 = (value: number): Bytes => [...be16(value >>> 16), ...be16(value & 0xffff)];
const bigChunk = (id: string, body: Bytes): Bytes => [...ascii(id), ...be32(body.length), ...body];

function aiff(form: 'AIFF' | 'AIFC', bits: number, kind: string, data: Bytes): Bytes {
  const rate = [0x40, 0x0b, 0xfa, 0, 0, 0, 0, 0, 0, 0];
  const frames = data.length / Math.ceil(bits / 8);
  const comm = [
    ...be16(1),
    ...be32(frames),
    ...be16(bits),
    ...rate,
    ...(form === 'AIFC' ? [...ascii(kind), 0, 0] : []),
  ];
  const chunks = [...bigChunk('COMM', comm), ...bigChunk('SSND', [0, 0, 0, 0, 0, 0, 0, 0, ...data])];
  return [...ascii('FORM'), ...be32(chunks.length + 4), ...ascii(form), ...chunks];
}

const seeds: Readonly<Record<string, readonly Bytes[]>> = {
  WAVE: [
    riff(fmt, chunk('data', sound)),
    riff(bextChunk('2031-06-14', '09:30:00'), fmt, chunk('LIST', ascii('INFOabc')), chunk('data', sound)),
    riff(chunk('fmt ', fmtBody({ bits: 8, channelCount: 2 })), chunk('data', sound)),
    riff(chunk('fmt ', fmtBody({ bits: 24 })), chunk('data', sound)),
    riff(chunk('fmt ', extensibleBody({ bits: 32, channelCount: 3 })), chunk('data', sound)),
    riff(chunk('fmt ', fmtBody({ code: 3, bits: 32 })), chunk('data', floats)),
    riff(chunk('fmt ', fmtBody({ code: 3, bits: 64 })), chunk('data', doubles)),
    riff(fmt, chunk('data', sound, 0)),
    riff(fmt, chunk('data', sound, 0xffff_ffff)),
    riff(fmt, chunk('data', sound), chunk('data', sound), chunk('fact', u32(60)), chunk('data', sound)),
    [...riff(fmt, chunk('data', sound)), ...riff(fmt, chunk('data', sound))],
  ],
  RF64: [
    rf64('RF64', 120, fmt, chunk('data', sound, 0xffff_ffff)),
    rf64('BW64', 120, chunk('axml', [1, 2, 3]), fmt, chunk('data', sound, 0xffff_ffff)),
    rf64('RF64', 0, fmt, chunk('data', sound, 0xffff_ffff), chunk('data', sound)),
  ],
  Wave64: [
    wave64(chunk64('fmt ', fmtBody()), chunk64('data', sound)),
    wave64(
      chunk64('fact', u32(60)),
      chunk64('fmt ', extensibleBody()),
      chunk64('data', sound),
      chunk64('data', sound),
    ),
  ],
  AIFF: [
    aiff('AIFF', 16, '', sound),
    aiff('AIFF', 8, '', sound),
    aiff('AIFC', 24, 'NONE', sound),
    aiff('AIFC', 16, 'sowt', sound),
    aiff('AIFC', 32, 'fl32', sound),
    aiff('AIFC', 64, 'fl64', sound),
  ],
};

const counts: Readonly<Record<string, number>> = {
  WAVE: 75_000,
  RF64: 25_000,
  Wave64: 20_000,
  AIFF: 25_000,
};

describe('mutated files end in samples or in one line', () => {
  test.each(Object.keys(seeds))('%s', async (name) => {
    const given = seeds[name]!.map((bytes) => Uint8Array.from(bytes));
    for (const bytes of given) expect(await readBytes(bytes)).toBe('read');
    const count = counts[name]!;
    const read = await fuzz(
      name,
      count,
      (random) => mutated(given[random.below(given.length)]!, random),
      readBytes,
    );
    // Both ends must be reached, or the mutations are too wild or too tame.
    expect(read).toBeGreaterThan(count / 20);
    expect(read).toBeLessThan(count);
  });

  test('any bytes behind any beginning', async () => {
    const heads = ['RIFF', 'RF64', 'BW64', 'riff', 'FORM', 'fLaC', 'OggS', 'ID3', '\xff\xfb', ''].map(ascii);
    const forms = ['WAVE', 'AIFF', 'AIFC', ''].map(ascii);
    await fc.assert(
      fc.asyncProperty(
        fc.constantFrom(...heads),
        fc.constantFrom(...forms),
        fc.uint8Array({ maxLength: 300 }),
        async (head, form, rest) => {
          await readBytes(Uint8Array.from([...head, ...rest.slice(0, 4), ...form, ...rest.slice(4)]));
        },
      ),
      { numRuns: 10_000, seed: 7 },
    );
  });
});
