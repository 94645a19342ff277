import { describe, expect, test } from 'vitest';
import { segmentsOf } from '../../src/dance/segments.ts';
import { seededRandom } from '../../src/random.ts';

/** Bounds of the segments of a recording whose samples come in blocks of `blockLength`. */
async function bounds(samples: Float32Array, rateHz: number, blockLength: number) {
  const blocks = async function* () {
    for (let at = 0; at < samples.length; at += blockLength) yield samples.slice(at, at + blockLength);
  };
  const found = [];
  for await (const { samples: held, ...times } of segmentsOf(blocks(), rateHz)) {
    found.push({ ...times, length: held.length, first: held[0], last: held.at(-1) });
  }
  return found;
}

// A core takes 120 s and its context 14 s on either side: the lengths at which one more segment begins or its context
// is whole, and one sample to either side. 2000 Hz is searched as it is; at 4000 Hz the last samples come out of the
// filter only once the recording has ended.
const cases = [
  { rateHz: 2000, lengthsS: [120, 134, 148, 254] },
  { rateHz: 4000, lengthsS: [134] },
].flatMap(({ rateHz, lengthsS }) =>
  lengthsS.flatMap((lengthS) =>
    [-1, 0, 1].map((more): [number, number] => [rateHz, lengthS * rateHz + more]),
  ),
);

describe('a recording that ends where a segment is cut', () => {
  test.each(cases)('%d Hz, %d samples: the same segments whatever the blocks', async (rateHz, length) => {
    const random = seededRandom(length);
    const samples = Float32Array.from({ length }, () => random.uniform() - 0.5);
    const whole = await bounds(samples, rateHz, length);
    for (const blockLength of [1, 4096]) expect(await bounds(samples, rateHz, blockLength)).toEqual(whole);
  });

  test.each([2000, 4000, 8000])('is cut at %d Hz as at any other rate', async (rateHz) => {
    const segmentsAt = async (lengthS: number) =>
      (await bounds(new Float32Array(lengthS * rateHz), rateHz, 4096)).length;
    expect([await segmentsAt(134), await segmentsAt(254)]).toEqual([2, 3]);
  });
});
