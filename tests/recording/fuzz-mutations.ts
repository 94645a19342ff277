import { expect } from 'vitest';
import { InputError } from '../../src/input-error.ts';
import { type Random, seededRandom } from '../../src/random.ts';
import { oggCrc32 } from '../../src/recording/compressed/checksums.ts';
import { recordingOf } from '../../src/recording/open-recording.ts';
import { memorySource } from './memory-source.ts';

/** Changes bytes, more or less; may give back other bytes than it was handed. */
type Mutation = (bytes: Uint8Array, random: Random) => Uint8Array;

const oddBytes = [0, 1, 0x7f, 0x80, 0xff, 0x20, 0x41];
const oddSizes = [0, 1, 2, 7, 8, 0x7fff_ffff, 0x8000_0000, 0xffff_fffe, 0xffff_ffff];

const flip: Mutation = (bytes, random) => {
  for (let count = 1 + random.below(8); count > 0; count--) {
    bytes[random.below(bytes.length)]! ^= 1 << random.below(8);
  }
  return bytes;
};

const replace: Mutation = (bytes, random) => {
  for (let count = 1 + random.below(4); count > 0; count--) {
    bytes[random.below(bytes.length)] = oddBytes[random.below(oddBytes.length)]!;
  }
  return bytes;
};

const truncate: Mutation = (bytes, random) => bytes.slice(0, random.below(bytes.length));

/** A field of four or eight bytes gets a size such as headers of broken files have. */
const resize: Mutation = (bytes, random) => {
  const at = random.below(Math.max(1, bytes.length - 4)) & ~random.below(4);
  const sizes = [...oddSizes, bytes.length, bytes.length - at, bytes.length + 1, random.below(65_536)];
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  if (at + 4 > bytes.length) return bytes;
  const size = sizes[random.below(sizes.length)]!;
  view.setUint32(at, size, random.below(2) === 0);
  if (random.below(4) === 0 && at + 8 <= bytes.length) view.setUint32(at + 4, size, random.below(2) === 0);
  return bytes;
};

const cutOut: Mutation = (bytes, random) => {
  const from = random.below(bytes.length);
  const to = Math.min(bytes.length, from + 1 + random.below(64));
  return Uint8Array.from([...bytes.subarray(0, from), ...bytes.subarray(to)]);
};

const repeat: Mutation = (bytes, random) => {
  const from = random.below(bytes.length);
  const part = bytes.subarray(from, from + 1 + random.below(200));
  const at = random.below(bytes.length);
  return Uint8Array.from([...bytes.subarray(0, at), ...part, ...part, ...bytes.subarray(at)]);
};

const append: Mutation = (bytes, random) => {
  const tail = Array.from({ length: random.below(300) }, () => random.below(256));
  return Uint8Array.from([...bytes, ...tail]);
};

const mutations: readonly Mutation[] = [flip, replace, truncate, resize, resize, cutOut, repeat, append];

/** One to three mutations of a copy. */
export function mutated(seed: Uint8Array, random: Random): Uint8Array {
  let bytes: Uint8Array = seed.slice();
  for (let count = 1 + random.below(3); count > 0 && bytes.length > 0; count--) {
    bytes = mutations[random.below(mutations.length)]!(bytes, random);
  }
  return bytes;
}

/** Ogg pages with their checksums made right again, so that what they hold is looked at. */
export function withOggChecksums(bytes: Uint8Array): Uint8Array {
  const text = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length);
  for (let at = text.indexOf('OggS'); at >= 0 && at + 27 <= bytes.length; at = text.indexOf('OggS', at + 4)) {
    const segmentCount = bytes[at + 26]!;
    const lacing = bytes.subarray(at + 27, at + 27 + segmentCount);
    const length = 27 + segmentCount + lacing.reduce((sum, size) => sum + size, 0);
    if (at + length > bytes.length) continue;
    const page = bytes.subarray(at, at + length);
    new DataView(page.buffer, page.byteOffset).setUint32(22, oggCrc32(page), true);
  }
  return bytes;
}

/** Opens a recording in memory, and reads its first channel to the end if so asked. */
export async function readBytes(bytes: Uint8Array, isRead = true): Promise<'read' | 'refused'> {
  try {
    const recording = await recordingOf(memorySource('fuzzed.wav', bytes), null);
    const { frameCount, durationS } = recording.info;
    expect(Number.isSafeInteger(frameCount) && frameCount > 0 && Number.isFinite(durationS)).toBe(true);
    if (!isRead) return 'read';
    let frames = 0;
    for await (const block of recording.blocks(1)) {
      frames += block.length;
      if (!Number.isFinite(block[0]!)) throw new Error(`a sample of ${block[0]}`);
    }
    expect(frames).toBe(frameCount);
    return 'read';
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    if (/[\n\r]/.test(error.message)) throw new Error(`a message of several lines: ${error.message}`);
    return 'refused';
  }
}

const longestMs = 1000;
const mostBytes = 200 * 1024 * 1024;

/**
 * Tries inputs one after another: each must end in a result or an InputError within a second and 200 MB.
 *
 * @param make gives input `index`
 * @param take tries it; tells how it ended
 * @returns how many were read
 */
export async function fuzz<T>(
  name: string,
  count: number,
  make: (random: Random, index: number) => T,
  take: (input: T) => Promise<'read' | 'refused'> | 'read' | 'refused',
): Promise<number> {
  const random = seededRandom([...name].reduce((sum, letter) => (31 * sum + letter.charCodeAt(0)) | 0, 7));
  const before = process.memoryUsage.rss();
  let read = 0;
  for (let index = 0; index < count; index++) {
    const input = make(random, index);
    const told = () =>
      `${name}, input ${index}: ${input instanceof Uint8Array ? Buffer.from(input).toString('base64') : JSON.stringify(input)}`;
    const begun = performance.now();
    try {
      if ((await take(input)) === 'read') read++;
    } catch (error) {
      throw new Error(`${told().slice(0, 20_000)}: ${(error as Error).stack}`);
    }
    const tookMs = performance.now() - begun;
    if (tookMs > longestMs) {
      // A machine that is at other work is no fault of the input: it must be slow again.
      const again = performance.now();
      await take(input);
      if (performance.now() - again > longestMs)
        throw new Error(`${tookMs} ms for ${told().slice(0, 20_000)}`);
    }
    if (index % 64 === 0 && process.memoryUsage.rss() - before > mostBytes) {
      throw new Error(`more than 200 MB at ${told().slice(0, 20_000)}`);
    }
  }
  return read;
}
