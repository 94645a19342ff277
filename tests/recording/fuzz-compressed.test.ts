import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import type { Random } from '../../src/random.ts';
import { flacBlock, flacHead, verbatim } from './flac-bytes.ts';
import { fuzz, mutated, readBytes, withOggChecksums } from './fuzz-mutations.ts';
import type { Bytes } from './wave-bytes.ts';

const fixture = async (name: string): Promise<Uint8Array> =>
  new Uint8Array(await readFile(fileURLToPath(new URL(`../../fixtures/sound/${name}`, import.meta.url))));

const blockFrames = 32;
const wave = Array.from({ length: blockFrames }, (_, k) => Math.round(9000 * Math.sin(k)));
const blocks = (subframes: readonly Bytes[]): Bytes =>
  subframes.flatMap((subframe, number) => flacBlock(number, blockFrames, subframe));
const flac = (subframes: readonly Bytes[]): Uint8Array =>
  Uint8Array.from([...flacHead(blockFrames, blockFrames * subframes.length), ...blocks(subframes)]);

const some = (random: Random, most: number): Bytes =>
  Array.from({ length: random.below(most) }, () => random.below(256));

describe('FLAC', () => {
  const plain = flac([verbatim(wave), verbatim(wave), verbatim(wave), verbatim(wave)]);

  test('a hand-made file is read', async () => {
    expect(await readBytes(plain)).toBe('read');
  });

  test('mutated bytes', async () => {
    const read = await fuzz('FLAC', 30_000, (random) => mutated(plain, random), readBytes);
    expect(read).toBeGreaterThan(1000);
  });

  test('any subframe behind right checksums', async () => {
    const make = (random: Random) => {
      const any = () => (random.below(3) === 0 ? verbatim(wave) : [random.below(256), ...some(random, 80)]);
      return flac([verbatim(wave), any(), any(), verbatim(wave)]);
    };
    const read = await fuzz('FLAC subframes', 400, make, readBytes);
    expect(read).toBe(400);
  });

  test('blocks in any order, of any number', async () => {
    const make = (random: Random) => {
      const parts = Array.from({ length: 1 + random.below(12) }, () => {
        const number = random.below(4) === 0 ? random.below(128) : random.below(6);
        return flacBlock(
          number,
          random.below(3) === 0 ? 1 + random.below(65_536) : blockFrames,
          verbatim(wave),
        );
      });
      return Uint8Array.from([...flacHead(blockFrames, random.below(2) * 1000), ...parts.flat()]);
    };
    expect(await fuzz('FLAC order', 1200, make, readBytes)).toBeGreaterThan(80);
  });

  test('mutated files of another coder', async () => {
    const seed = await fixture('run-stereo-24.flac');
    await fuzz('FLAC fixture', 300, (random) => mutated(seed, random), readBytes);
  });
});

describe('Ogg Vorbis', () => {
  test('mutated pages, their checksums right, opened', async () => {
    const seeds = [(await fixture('run.ogg')).slice(0, 7000), await fixture('run-stereo.ogg')];
    const make = (random: Random) => withOggChecksums(mutated(seeds[random.below(2)]!, random));
    const read = await fuzz('Ogg', 5000, make, (bytes) => readBytes(bytes, false));
    expect(read).toBeGreaterThan(1000);
  });

  test('mutated pages, their checksums right, read to the end', async () => {
    const seed = await fixture('run.ogg');
    const make = (random: Random) => {
      // The setup of the coder stands in the first 2640 bytes: half of the mutations go there.
      if (random.below(2) === 0) return withOggChecksums(mutated(seed, random));
      const bytes = seed.slice();
      for (let count = 1 + random.below(6); count > 0; count--)
        bytes[58 + random.below(2582)] = random.below(256);
      return withOggChecksums(bytes);
    };
    await fuzz('Ogg read', 80, make, readBytes);
  });

  test('mutated pages as they are', async () => {
    const seed = await fixture('run.ogg');
    await fuzz('Ogg raw', 50, (random) => mutated(seed, random), readBytes);
  });
});

describe('MP3', () => {
  test('mutated frames, opened', async () => {
    const seeds = [
      (await fixture('run.mp3')).slice(0, 3000),
      (await fixture('run-vbr-stereo.mp3')).slice(0, 3000),
    ];
    const make = (random: Random) => mutated(seeds[random.below(2)]!, random);
    const read = await fuzz('MP3', 12_000, make, (bytes) => readBytes(bytes, false));
    expect(read).toBeGreaterThan(5000);
  });

  test('mutated frames, read to the end', async () => {
    const seeds = [
      (await fixture('run.mp3')).slice(0, 5000),
      (await fixture('run-vbr-stereo.mp3')).slice(0, 5000),
    ];
    const make = (random: Random) => {
      const bytes = seeds[random.below(2)]!.slice();
      if (random.below(2) === 0) return mutated(bytes, random);
      for (let count = 1 + random.below(60); count > 0; count--)
        bytes[random.below(5000)] = random.below(256);
      return bytes;
    };
    await fuzz('MP3 read', 400, make, readBytes);
  });
});
