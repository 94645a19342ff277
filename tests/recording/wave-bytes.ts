import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll } from 'vitest';
import type { BlockOptions, Recording } from '../../src/recording/index.ts';

/** Hand-made WAVE files, byte by byte, so that the reader is not tested against the writer alone. */

export type Bytes = readonly number[];

export const ascii = (text: string): Bytes => [...text].map((letter) => letter.charCodeAt(0));
export const u16 = (value: number): Bytes => [value & 0xff, (value >> 8) & 0xff];
export const u32 = (value: number): Bytes => [...u16(value & 0xffff), ...u16(value >>> 16)];

/** A chunk with its pad byte; the stated size may lie. */
export function chunk(id: string, body: Bytes, statedBytes = body.length): Bytes {
  return [...ascii(id), ...u32(statedBytes), ...body, ...(body.length % 2 === 1 ? [0] : [])];
}

export interface FormatFields {
  readonly code?: number;
  readonly channelCount?: number;
  readonly sampleRateHz?: number;
  readonly bits?: number;
  readonly blockAlign?: number;
}

/** The 16 bytes of a plain fmt chunk; mono, 8000 Hz, 16 bits unless told otherwise. */
export function fmtBody(fields: FormatFields = {}): Bytes {
  const { code = 1, channelCount = 1, sampleRateHz = 8000, bits = 16 } = fields;
  const blockAlign = fields.blockAlign ?? channelCount * Math.ceil(bits / 8);
  return [
    ...u16(code),
    ...u16(channelCount),
    ...u32(sampleRateHz),
    ...u32(sampleRateHz * blockAlign),
    ...u16(blockAlign),
    ...u16(bits),
  ];
}

/** The 40 bytes of an extensible fmt chunk with a plain code as subformat. */
export function extensibleBody(fields: FormatFields = {}, validBits = fields.bits ?? 16): Bytes {
  const guidTail = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71];
  return [
    ...fmtBody({ ...fields, code: 0xfffe }),
    ...u16(22),
    ...u16(validBits),
    ...u32(0),
    ...u16(fields.code ?? 1),
    ...guidTail,
  ];
}

export function riff(...chunks: readonly Bytes[]): Bytes {
  const body = chunks.flat();
  return [...ascii('RIFF'), ...u32(body.length + 4), ...ascii('WAVE'), ...body];
}

/** A bext chunk of 602 bytes with these two fields. */
export function bextChunk(date: string, time: string): Bytes {
  const body = new Array<number>(602).fill(0);
  body.splice(320, date.length, ...ascii(date));
  body.splice(330, time.length, ...ascii(time));
  return chunk('bext', body);
}

export const int16Bytes = (values: readonly number[]): Bytes =>
  values.flatMap((value) => u16(value & 0xffff));

/** A folder of its own for the tests of one file, removed after them. */
export function temporaryFolder(): { readonly path: (name: string) => string; readonly put: PutFile } {
  let folder = '';
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'combtone-recording-'));
  });
  afterAll(() => rm(folder, { recursive: true, force: true }));
  const path = (name: string) => join(folder, name);
  const put: PutFile = async (bytes, name = 'recording.wav') => {
    await writeFile(path(name), Uint8Array.from(bytes));
    return path(name);
  };
  return { path, put };
}

type PutFile = (bytes: Bytes, name?: string) => Promise<string>;

/** All samples of a channel in one array, and the lengths of the blocks they came in. */
export async function readAll(recording: Recording, channel = 1, options?: BlockOptions) {
  const samples: number[] = [];
  const lengths: number[] = [];
  for await (const block of recording.blocks(channel, options)) {
    lengths.push(block.length);
    for (const sample of block) samples.push(sample);
  }
  return { samples, lengths };
}
