import { appendFile, open, stat, truncate } from 'node:fs/promises';
import { describe, expect, test } from 'vitest';
import { openRecording } from '../../src/recording/index.ts';
import {
  ascii,
  type Bytes,
  bextChunk,
  chunk,
  chunk64,
  fmtBody,
  int16Bytes,
  readAll,
  rf64,
  riff,
  temporaryFolder,
  u32,
  wave64,
} from './wave-bytes.ts';

const { put } = temporaryFolder();
const fmt = chunk('fmt ', fmtBody());
const four = int16Bytes([0, 16384, -32768, 32767]);
const fourValues = [0, 0.5, -1, 32767 / 32768];
const more = int16Bytes([8192, -8192]);
const moreValues = [0.25, -0.25];

async function read(bytes: Bytes, channel = 1) {
  const recording = await openRecording(await put(bytes));
  try {
    return { info: recording.info, ...(await readAll(recording, channel)) };
  } finally {
    await recording.close();
  }
}

describe('RF64 and BW64', () => {
  test.each(['RF64', 'BW64'] as const)('%s: the data size stands in ds64', async (form) => {
    const bytes = rf64(form, 8, fmt, chunk('data', four, 0xffff_ffff), bextChunk('2031-06-14', '09:30:00'));
    const { info, samples } = await read(bytes);
    expect(samples).toEqual(fourValues);
    expect(info).toMatchObject({ format: form, startTime: '2031-06-14T09:30:00', warnings: [] });
  });

  test('plain sizes under 4 GiB hold beside ds64', async () => {
    const { info, samples } = await read(rf64('RF64', 99, fmt, chunk('data', four), chunk('LIST', [1, 2])));
    expect(samples).toEqual(fourValues);
    expect(info.warnings).toEqual([]);
  });

  test('sizes of other chunks stand in the table of ds64', async () => {
    const table = [...ascii('JUNK'), ...u32(4), ...u32(0)];
    const ds64 = chunk('ds64', [
      ...new Array<number>(8).fill(0),
      ...u32(8),
      ...u32(0),
      ...new Array<number>(8).fill(0),
      ...u32(1),
      ...table,
    ]);
    const head = [...ascii('RF64'), ...u32(0xffff_ffff), ...ascii('WAVE')];
    const junk = chunk('JUNK', [1, 2, 3, 4], 0xffff_ffff);
    const { samples } = await read([...head, ...ds64, ...junk, ...fmt, ...chunk('data', four, 0xffff_ffff)]);
    expect(samples).toEqual(fourValues);
  });

  test('without ds64, or with a ds64 that was never filled in, sound is read to the end', async () => {
    const head = [...ascii('RF64'), ...u32(0xffff_ffff), ...ascii('WAVE')];
    const without = await read([...head, ...fmt, ...chunk('data', four, 0xffff_ffff)]);
    expect(without.samples).toEqual(fourValues);
    expect(without.info.warnings[0]).toContain('data size was never set');
    const unfilled = await read(rf64('RF64', 0, fmt, chunk('data', four, 0xffff_ffff)));
    expect(unfilled.samples).toEqual(fourValues);
    expect(unfilled.info.warnings[0]).toContain('data size is 0: read to the end');
  });

  test('ds64 past the end of the file', async () => {
    const { info, samples } = await read(rf64('BW64', 2 ** 40, fmt, chunk('data', four, 0xffff_ffff)));
    expect(samples).toEqual(fourValues);
    expect(info.warnings).toEqual([`data cut short: the header says ${2 ** 40} bytes, the file holds 8`]);
  });
});

/** A file of more than 4 GiB, of which only the ends are really there. */
async function sparse(name: string, head: Bytes, dataBytes: number, tail: Bytes): Promise<string> {
  const path = await put(head, name);
  const soundAt = head.length;
  await truncate(path, soundAt + dataBytes);
  const file = await open(path, 'r+');
  await file.write(Uint8Array.from(more), 0, 4, soundAt);
  await file.write(Uint8Array.from(four), 0, 8, soundAt + dataBytes - 8);
  await file.close();
  await appendFile(path, Uint8Array.from(tail));
  return path;
}

describe('more than 4 GiB', () => {
  const dataBytes = 5 * 2 ** 30;
  const bext = bextChunk('2031-06-14', '09:30:00');
  const dataHead32 = [...ascii('data'), ...u32(0xffff_ffff)];
  const dataHead64 = chunk64('data', [], dataBytes);
  const files: readonly (readonly [string, Bytes, Bytes, string | null])[] = [
    ['RF64', rf64('RF64', dataBytes, fmt, dataHead32), bext, '2031-06-14T09:30:00'],
    ['BW64', rf64('BW64', dataBytes, bext, fmt, dataHead32), [], '2031-06-14T09:30:00'],
    ['Wave64', wave64(chunk64('fmt ', fmtBody()), dataHead64), chunk64('LIST', [1, 2, 3]), null],
  ];

  test.each(files)(
    '%s: first and last samples, length, and the chunk behind the sound',
    async (format, head, tail, startTime) => {
      const path = await sparse(`large-${format}.wav`, head, dataBytes, tail);
      expect((await stat(path)).size).toBeGreaterThan(2 ** 32);
      const recording = await openRecording(path);
      try {
        const { info } = recording;
        expect(info).toMatchObject({ format, frameCount: dataBytes / 2, startTime, warnings: [] });
        const first = await readAll(recording, 1, { endFrame: 3 });
        expect(first.samples).toEqual([...moreValues, 0]);
        const last = await readAll(recording, 1, { startFrame: info.frameCount - 4 });
        expect(last.samples).toEqual(fourValues);
        // Across the place where 32 bits end.
        const middle = await readAll(recording, 1, { startFrame: 2 ** 31 - 2, endFrame: 2 ** 31 + 2 });
        expect(middle.samples).toEqual([0, 0, 0, 0]);
      } finally {
        await recording.close();
      }
    },
  );
});

describe('Wave64', () => {
  const format = chunk64('fmt ', fmtBody());

  test('chunks are aligned to 8 bytes, unknown GUIDs passed over', async () => {
    const unknown = [...new Array<number>(16).fill(9), ...[27, 0, 0, 0, 0, 0, 0, 0], 1, 2, 3, 0, 0, 0, 0, 0];
    const { info, samples } = await read(
      wave64(unknown, format, chunk64('data', four.slice(0, 6)), chunk64('fact', [1])),
    );
    expect(samples).toEqual(fourValues.slice(0, 3));
    expect(info).toMatchObject({ format: 'Wave64', encoding: 'pcm16', warnings: [] });
  });

  test.each([
    ['0', -24, 'data size is 0: read to the end of the file, 8 bytes'],
    ['that of the chunk head', 0, 'data size is 0: read to the end of the file, 8 bytes'],
    ['past the end', 1000, 'data cut short: the header says 1000 bytes, the file holds 8'],
  ])('a data size of %s', async (_, statedBytes, warning) => {
    const stated =
      statedBytes < 0 ? [...chunk64('data', four, 0)].fill(0, 16, 24) : chunk64('data', four, statedBytes);
    const { info, samples } = await read(wave64(format, stated));
    expect(samples).toEqual(fourValues);
    expect(info.warnings).toEqual([warning]);
  });
});

describe('appended recordings', () => {
  test('several data chunks, an empty and an odd one among them', async () => {
    const odd = [...more, 7];
    const { info, samples } = await read(
      riff(
        fmt,
        chunk('data', four),
        chunk('data', []),
        chunk('LIST', [1]),
        chunk('data', odd),
        chunk('data', four),
      ),
    );
    expect(samples).toEqual([...fourValues, ...moreValues, ...fourValues]);
    expect(info.frameCount).toBe(10);
    expect(info.warnings).toEqual([
      'the last frame is incomplete: 1 of 2 bytes, passed over',
      '3 data chunks: read one behind another',
    ]);
  });

  test('any stretch can be read across the joints, in blocks of any size', async () => {
    const recording = await openRecording(
      await put(riff(fmt, chunk('data', four), chunk('data', more), chunk('data', four))),
    );
    const all = [...fourValues, ...moreValues, ...fourValues];
    for (let startFrame = 0; startFrame < all.length; startFrame++) {
      for (const blockFrames of [1, 3, 100]) {
        const { samples } = await readAll(recording, 1, { startFrame, endFrame: 9, blockFrames });
        expect(samples).toEqual(all.slice(startFrame, 9));
      }
    }
    await recording.close();
  });

  test('whole files one behind another', async () => {
    const { info, samples } = await read([
      ...riff(fmt, chunk('data', four)),
      ...riff(fmt, chunk('data', more)),
    ]);
    expect(samples).toEqual([...fourValues, ...moreValues]);
    expect(info.warnings).toEqual(['2 data chunks: read one behind another']);
  });

  test('the last part cut short, or its size never set', async () => {
    for (const [stated, warning] of [
      [100, 'data cut short: the header says 100 bytes, the file holds 4'],
      [0xffff_ffff, 'data size was never set (0xFFFFFFFF): read to the end of the file, 4 bytes'],
      [0, 'data size is 0: read to the end of the file, 4 bytes'],
    ] as const) {
      const { info, samples } = await read(riff(fmt, chunk('data', four), chunk('data', more, stated)));
      expect(samples).toEqual([...fourValues, ...moreValues]);
      expect(info.warnings).toEqual([warning, '2 data chunks: read one behind another']);
    }
  });

  test('a part of another format is passed over, with a warning', async () => {
    const other = chunk('fmt ', fmtBody({ sampleRateHz: 16_000 }));
    const { info, samples } = await read(riff(fmt, chunk('data', four), other, chunk('data', more)));
    expect(samples).toEqual(fourValues);
    expect(info.warnings[0]).toContain('a second fmt chunk differs from the first');
  });

  test('two thousand parts', async () => {
    const parts = Array.from({ length: 2000 }, () => chunk('data', four));
    const { info } = await read([...riff(fmt), ...parts.flat()]);
    expect(info.frameCount).toBe(8000);
  });
});

describe('files that are still being written', () => {
  test('are read as far as they went at opening, and that is said', async () => {
    const path = await put(riff(fmt, chunk('data', four, 0)));
    const recording = await openRecording(path);
    await appendFile(path, Uint8Array.from(more));
    const { samples } = await readAll(recording);
    expect(samples).toEqual(fourValues);
    expect(recording.info.warnings[0]).toContain('data size is 0');
    expect(recording.notes()).toEqual([
      'the file is still being written (52 bytes when it was opened, 56 bytes later): ' +
        'read as far as it went when it was opened',
    ]);
    await recording.close();
  });

  test('nothing is said of a file at rest', async () => {
    const recording = await openRecording(await put(riff(fmt, chunk('data', four))));
    await readAll(recording);
    expect(recording.notes()).toEqual([]);
    await recording.close();
  });
});
