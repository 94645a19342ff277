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

/** Little-endian, up to 2^53. */
export const u64 = (value: number): Bytes => [...u32(value % 2 ** 32), ...u32(Math.floor(value / 2 ** 32))];

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

/** An RF64 or BW64 file; sizes in the ds64 chunk are those given. */
export function rf64(form: 'RF64' | 'BW64', dataBytes: number, ...chunks: readonly Bytes[]): Bytes {
  const ds64 = chunk('ds64', [...u64(dataBytes + 72), ...u64(dataBytes), ...u64(0), ...u32(0)]);
  return [...ascii(form), ...u32(0xffff_ffff), ...ascii('WAVE'), ...ds64, ...chunks.flat()];
}

const guidTails = {
  acf3: [0xf3, 0xac, 0xd3, 0x11, 0x8c, 0xd1, 0, 0xc0, 0x4f, 0x8e, 0xdb, 0x8a],
  riff: [0x2e, 0x91, 0xcf, 0x11, 0xa5, 0xd6, 0x28, 0xdb, 0x04, 0xc1, 0, 0],
};

/** A Wave64 chunk, padded to a multiple of 8; the stated body size may lie. */
export function chunk64(id: string, body: Bytes, statedBytes = body.length): Bytes {
  const padding = new Array<number>((8 - (body.length % 8)) % 8).fill(0);
  return [...ascii(id), ...guidTails.acf3, ...u64(statedBytes + 24), ...body, ...padding];
}

export function wave64(...chunks: readonly Bytes[]): Bytes {
  const body = chunks.flat();
  const head = [...ascii('riff'), ...guidTails.riff, ...u64(body.length + 40)];
  return [...head, ...ascii('wave'), ...guidTails.acf3, ...body];
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
