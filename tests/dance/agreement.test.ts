import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { intersectionOverUnion, matchStretches, type Stretch, scoresOf } from '../../src/dance/agreement.ts';

const stretch = fc
  .record({
    recording: fc.constantFrom('a.wav', 'b.wav'),
    start: fc.integer({ min: 0, max: 400 }),
    length: fc.integer({ min: 1, max: 40 }),
  })
  .map(({ recording, start, length }) => ({ recording, start_s: start / 10, end_s: (start + length) / 10 }));
const stretches = fc.array(stretch, { maxLength: 40 });

const at = (start_s: number, end_s: number, recording = 'a.wav'): Stretch => ({ recording, start_s, end_s });

describe('intersectionOverUnion', () => {
  test('by hand', () => {
    expect(intersectionOverUnion(at(1, 2), at(1, 2))).toBe(1);
    expect(intersectionOverUnion(at(1, 2), at(1.5, 2.5))).toBeCloseTo(1 / 3, 12);
    expect(intersectionOverUnion(at(1, 4), at(2, 3))).toBeCloseTo(1 / 3, 12);
    expect(intersectionOverUnion(at(1, 2), at(2, 3))).toBe(0);
    expect(intersectionOverUnion(at(1, 2), at(5, 6))).toBe(0);
  });

  test('is symmetric, from 0 to 1, and 1 for the same alone', () => {
    fc.assert(
      fc.property(stretch, stretch, (a, b) => {
        const share = intersectionOverUnion(a, b);
        expect(share).toBe(intersectionOverUnion(b, a));
        expect(share).toBeGreaterThanOrEqual(0);
        expect(share).toBeLessThanOrEqual(1);
        expect(share === 1).toBe(a.start_s === b.start_s && a.end_s === b.end_s);
      }),
      { numRuns: 300, seed: 6 },
    );
  });
});

describe('matchStretches', () => {
  test('pairs one to one, on one recording, at the least share, and loses no row', () => {
    fc.assert(
      fc.property(stretches, stretches, fc.constantFrom(0.3, 0.5, 0.8), (reference, found, least) => {
        const { pairs, missed, extra } = matchStretches(reference, found, least);
        expect(new Set(pairs.map((pair) => pair.reference)).size).toBe(pairs.length);
        expect(new Set(pairs.map((pair) => pair.found)).size).toBe(pairs.length);
        for (const pair of pairs) {
          expect(pair.reference.recording).toBe(pair.found.recording);
          expect(intersectionOverUnion(pair.reference, pair.found)).toBeGreaterThanOrEqual(least);
        }
        expect(pairs.length + missed.length).toBe(reference.length);
        expect(pairs.length + extra.length).toBe(found.length);
        // Nothing that could still be paired is left over.
        for (const one of missed) {
          for (const other of extra) {
            if (one.recording === other.recording) {
              expect(intersectionOverUnion(one, other)).toBeLessThan(least);
            }
          }
        }
      }),
      { numRuns: 200, seed: 7 },
    );
  });

  test('is symmetric: precision one way is recall the other', () => {
    fc.assert(
      fc.property(stretches, stretches, (a, b) => {
        const there = matchStretches(a, b);
        const back = matchStretches(b, a);
        expect(back.pairs).toHaveLength(there.pairs.length);
        expect(back.missed).toHaveLength(there.extra.length);
      }),
      { numRuns: 200, seed: 8 },
    );
  });

  test('rows against themselves all match', () => {
    fc.assert(
      fc.property(stretches, (rows) => {
        const { pairs } = matchStretches(
          rows,
          rows.map((row) => ({ ...row })),
        );
        expect(pairs).toHaveLength(rows.length);
      }),
      { numRuns: 100, seed: 9 },
    );
  });

  test('the pair that shares most is made first', () => {
    const [near, nearer] = [at(1, 2.4), at(1, 2.1)];
    const { pairs, extra } = matchStretches([at(1, 2)], [near, nearer]);
    expect(pairs.map((pair) => pair.found)).toEqual([nearer]);
    expect(extra).toEqual([near]);
  });
});

test('a share that is just the least one makes a pair', () => {
  expect(matchStretches([at(1, 2)], [at(1, 3)], 0.5).pairs).toHaveLength(1);
  expect(matchStretches([at(1, 2)], [at(1, 3.01)], 0.5).pairs).toEqual([]);
});

describe('scoresOf', () => {
  test('by hand: 6 pairs, 2 missed, 4 extra', () => {
    expect(scoresOf({ pairs: 6, missed: 2, extra: 4 })).toEqual({
      precision: 0.6,
      recall: 0.75,
      f1: 12 / 18,
    });
    expect(scoresOf({ pairs: 0, missed: 0, extra: 0 }).f1).toBeNaN();
  });
});
