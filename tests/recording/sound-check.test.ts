import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { soundChecker } from '../../src/recording/index.ts';

function check(samples: readonly number[], scaled = true, blockLength = samples.length) {
  const checker = soundChecker(1000, scaled);
  for (let from = 0; from < samples.length; from += blockLength) {
    checker.take(Float32Array.from(samples.slice(from, from + blockLength)));
  }
  return checker.result();
}

describe('soundChecker', () => {
  test('counts flat tops at full scale, not single peaks', () => {
    // Three samples in a row at full scale: the second and third repeat it.
    expect(check([0.1, 1, 1, 1, 0.2, -1, 0.3, 1, -0.5, 0.1]).clippedShare).toBeCloseTo(0.2, 12);
  });

  test('float samples have no full scale', () => {
    expect(check([1, 1, 1, 0.5], false).clippedShare).toBe(0);
  });

  test.each([1, 3, 7, 100])(
    'drop-outs of 5 ms and more are counted whatever the blocks (%i)',
    (blockLength) => {
      const samples = [0.1, ...Array(4).fill(0), 0.2, ...Array(6).fill(0), 0.3, ...Array(10).fill(0)];
      expect(check(samples, true, blockLength)).toEqual({
        heard: true,
        clippedShare: 0,
        dropOutCount: 2,
        dropOutS: 0.016,
      });
    },
  );

  test('all zeros are not heard', () => {
    expect(check(Array(50).fill(0)).heard).toBe(false);
  });

  test('sees what looking at each sample in turn sees, however the stream is cut', () => {
    const sample = fc.oneof(
      { weight: 6, arbitrary: fc.constant(0) },
      { weight: 2, arbitrary: fc.constant(1) },
      { weight: 1, arbitrary: fc.constantFrom(-1, 0.3, -0.2) },
    );
    fc.assert(
      fc.property(
        fc.array(sample, { maxLength: 120 }),
        fc.integer({ min: 1, max: 40 }),
        (samples, length) => {
          expect(check(samples, true, length)).toEqual(inTurn(samples));
        },
      ),
      { seed: 20, numRuns: 2000 },
    );
  });
});

/** The same by looking at every sample. */
function inTurn(samples: readonly number[]) {
  const runs: number[] = [];
  let tops = 0;
  samples.forEach((sample, k) => {
    if (sample === 0) {
      if (samples[k - 1] === 0) runs[runs.length - 1]!++;
      else runs.push(1);
    }
    if (Math.abs(sample) === 1 && sample === samples[k - 1]) tops++;
  });
  const dropOuts = runs.filter((length) => length >= 5);
  return {
    heard: samples.some((sample) => sample !== 0),
    clippedShare: samples.length === 0 ? 0 : tops / samples.length,
    dropOutCount: dropOuts.length,
    dropOutS: dropOuts.reduce((sum, length) => sum + length, 0) / 1000,
  };
}
