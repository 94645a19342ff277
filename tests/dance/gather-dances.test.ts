import { describe, expect, test } from 'vitest';
import { type GatheredTrain, gatherDances } from '../../src/dance/gather-dances.ts';

interface Run extends GatheredTrain {
  readonly bee: string;
}

const runs = (
  bee: string,
  startS: number,
  count: number,
  { carrierHz = 262, beatS = 0.05, durationS = 0.8, returnS = 1.6 } = {},
): Run[] =>
  Array.from({ length: count }, (_, k) => {
    const at = startS + k * (durationS + returnS);
    // A little scatter, as a bee has.
    const wobble = ((k * 7) % 5) - 2;
    return {
      bee,
      startS: at,
      endS: at + durationS * (1 + 0.03 * wobble),
      carrierHz: carrierHz + wobble,
      beatS: beatS * (1 + 0.01 * wobble),
    };
  });

/** Bees of each dance, in order of the dances. */
const gathered = (all: readonly Run[]): string[] => {
  const sorted = [...all].sort((a, b) => a.startS - b.startS);
  const danceOf = gatherDances(sorted);
  expect(danceOf).toHaveLength(all.length);
  const dances: string[] = [];
  sorted.forEach(({ bee }, k) => {
    dances[danceOf[k]!] = (dances[danceOf[k]!] ?? '') + bee;
  });
  return dances;
};

describe('gatherDances', () => {
  test('one dancer, one dance', () => {
    expect(gathered(runs('a', 10, 8))).toEqual(['aaaaaaaa']);
  });

  test('two dancers at once are told apart by their carriers', () => {
    const all = [...runs('a', 10, 8, { carrierHz: 245 }), ...runs('b', 11.1, 7, { carrierHz: 285 })];
    expect(gathered(all)).toEqual(['aaaaaaaa', 'bbbbbbb']);
  });

  test('two dancers at once at one carrier are told apart by beat and duration', () => {
    const all = [
      ...runs('a', 10, 6, { beatS: 0.036, durationS: 0.4, returnS: 1.9 }),
      ...runs('b', 10.9, 6, { beatS: 0.062, durationS: 1.1, returnS: 1.2 }),
    ];
    expect(gathered(all)).toEqual(['aaaaaa', 'bbbbbb']);
  });

  test('runs that overlap are of two dancers, however like', () => {
    expect(gathered([...runs('a', 10, 1), ...runs('b', 10.4, 1)])).toEqual(['a', 'b']);
  });

  test('a run unheard does not end a dance; half a minute of silence does', () => {
    const all = runs('a', 10, 9);
    expect(gathered(all.filter((_, k) => k !== 4))).toEqual(['aaaaaaaa']);
    expect(gathered([...runs('a', 10, 4), ...runs('b', 50, 4)])).toEqual(['aaaa', 'bbbb']);
  });

  test('however quickly a dancer has come to return, she does not in less than 0.3 s', () => {
    const returning = (returnsS: readonly number[]): Run[] => {
      const [first] = runs('a', 10, 1) as [Run];
      let atS = first.endS;
      return [
        first,
        ...returnsS.map((returnS): Run => {
          const startS = atS + returnS;
          atS = startS + 0.8;
          return { ...first, startS, endS: atS };
        }),
      ];
    };
    const quicker = [0.8, 0.8, 0.8, 0.5, 0.5, 0.5];
    expect(gathered(returning([...quicker, 0.31]))).toEqual(['aaaaaaaa']);
    expect(gathered(returning([...quicker, 0.29]))).toEqual(['aaaaaaa', 'a']);
  });

  test('where one dance follows another at once, like in carrier and beat, a step in duration parts them', () => {
    const first = runs('a', 10, 6, { durationS: 0.4, carrierHz: 262 });
    const second = runs('b', first.at(-1)!.endS + 1.6, 6, { durationS: 1.1, carrierHz: 265 });
    expect(gathered([...first, ...second])).toEqual(['aaaaaa', 'bbbbbb']);
    const like = runs('b', first.at(-1)!.endS + 1.6, 6, { durationS: 0.45, carrierHz: 263 });
    expect(gathered([...first, ...like])).toEqual(['aaaaaabbbbbb']);
  });

  describe('of two dances a run follows the one that it fits better', () => {
    const run = (startS: number, lengthS: number, carrierHz: number): GatheredTrain => ({
      startS,
      endS: startS + lengthS,
      carrierHz,
      beatS: 0.05,
    });

    test('by return phases alone: the gap about a run unheard is none', () => {
      // Half of its carrier from each, 13 Hz. The first dance returns in 2 s, but once after 6; its own is 1.97 s by
      // (1.9 + 2 + 2) / 3, as is the gap. The gap to the other is 2.49 s for 1.9: a misfit of 0.2.
      const first = [run(0, 0.5, 250), run(2.5, 0.5, 250), run(9, 0.5, 250), run(11.5, 0.5, 250)];
      const second = run(10.985, 0.5, 276);
      const next = run(12 + 1.967, 0.5, 263);
      const all = [...first, second, next].sort((a, b) => a.startS - b.startS);
      expect(gatherDances(all)).toEqual([0, 0, 0, 1, 0, 0]);
    });

    test('with a run unheard at a cost of 2', () => {
      // The first dance is 10.7 Hz away, 3.2 squared spreads, and its gap is two returns and a run: 5.2 in all. The
      // other is so far away in carrier that it costs a tenth more, and a tenth less once it is nearer: without the run in
      // the gap the first would cost 5.7.
      const follows = (secondCost: number) => {
        const [firstHz, nextHz] = [250, 250 + 6 * Math.sqrt(3.2)];
        const secondHz = nextHz + 6 * Math.sqrt(secondCost);
        const startS = 5.95 + 2 * ((1.9 + 1.95) / 2) + 2;
        return gatherDances([
          run(0, 2, firstHz),
          run(3.95, 2, firstHz),
          run(startS - 1.9 - 2, 2, secondHz),
          run(startS, 2, nextHz),
        ]);
      };
      expect(follows(5.3)).toEqual([0, 0, 1, 0]);
      expect(follows(5.1)).toEqual([0, 0, 1, 1]);
    });
  });

  test('nothing gives nothing', () => {
    expect(gatherDances([])).toEqual([]);
  });
});
