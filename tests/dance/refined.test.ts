import { describe, expect, test } from 'vitest';
import { viewSegment } from '../../src/dance/segment-view.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { refineTrain } from '../../src/dance/train-refinement.ts';
import { withoutCalls } from '../../src/dance/without-calls.ts';
import { seededRandom } from '../../src/random.ts';
import { addTrain, RATE_HZ, whiteNoise } from './made-sound.ts';

/** Fifteen pulses at 262 Hz, some of them fainter, and where they are. */
function made(faint: (pulse: number) => boolean = () => false) {
  const samples = whiteNoise(41, 20);
  const random = seededRandom(42);
  const timesS = Array.from({ length: 15 }, (_, k) => {
    const snrDb = faint(k) ? 6 : 16;
    return addTrain(samples, { startS: 8 + 0.05 * k, pulseCount: 1, carrierHz: 262, snrDb }, random)[0]!;
  });
  return { view: viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS), timesS };
}

describe('refineTrain', () => {
  test('of two places nearer than any beat, the one with the stronger moment is the pulse', () => {
    const { view, timesS } = made();
    for (const beside of [-0.012, 0.012]) {
      const pulseTimesS = [...timesS, timesS[7]! + beside].sort((a, b) => a - b);
      const train = refineTrain(view, { pulseTimesS, carrierHz: 262, settled: true })!;
      expect(train.pulseTimesS).toHaveLength(15);
      train.pulseTimesS.forEach((timeS, k) => {
        expect(Math.abs(timeS - timesS[k]!)).toBeLessThan(0.0035);
      });
    }
  });

  test('a train that fades at its end, or swells at its start, is followed as far as it sounds', () => {
    // Over its last eight pulses by 10 dB.
    const samples = whiteNoise(43, 20);
    const random = seededRandom(44);
    const timesS = Array.from({ length: 20 }, (_, k) => {
      const snrDb = 20 - 1.2 * Math.max(0, k - 11);
      return addTrain(samples, { startS: 8 + 0.05 * k, pulseCount: 1, carrierHz: 262, snrDb }, random)[0]!;
    });
    const forward = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
    const found = refineTrain(forward, { pulseTimesS: timesS.slice(0, 14), carrierHz: 262 })!;
    expect(found.pulseTimesS).toHaveLength(20);
    const lastS = samples.length / RATE_HZ;
    const backward = viewSegment(samples.toReversed(), RATE_HZ, DEFAULT_SETTINGS);
    const mirrored = timesS.map((timeS) => lastS - timeS).reverse();
    expect(
      refineTrain(backward, { pulseTimesS: mirrored.slice(6), carrierHz: 262 })!.pulseTimesS,
    ).toHaveLength(20);
  });

  test('soft first and last pulses of a loud train are taken up where they stand clear of the noise', () => {
    // Four at each end rise from 14 dB below the others, which stand 24 dB over the noise.
    const softDb = [14, 10.5, 7, 3.5];
    const samples = whiteNoise(45, 20);
    const random = seededRandom(46);
    const timesS = Array.from({ length: 16 }, (_, k) => {
      const snrDb = 24 - (softDb[Math.min(k, 15 - k)] ?? 0);
      return addTrain(samples, { startS: 8 + 0.07 * k, pulseCount: 1, carrierHz: 281, snrDb }, random)[0]!;
    });
    const view = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
    const found = refineTrain(view, { pulseTimesS: timesS.slice(3, 13), carrierHz: 281 })!;
    expect(found.pulseTimesS).toHaveLength(16);
    expect(Math.abs(found.startS - 8)).toBeLessThan(0.01);
  });

  test('beyond an end one beat may be missed where the pulse after it is sure, two may not', () => {
    const countWith = (beats: number, snrDb: number): number[] =>
      [41, 43, 45].map((seed) => {
        const samples = whiteNoise(seed, 20);
        const random = seededRandom(42);
        const at = (k: number, db: number) =>
          addTrain(samples, { startS: 8 + 0.05 * k, pulseCount: 1, carrierHz: 262, snrDb: db }, random)[0]!;
        const pulseTimesS = Array.from({ length: 15 }, (_, k) => at(k, 12));
        at(14 + beats, snrDb);
        const view = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
        return refineTrain(view, { pulseTimesS, carrierHz: 262 })!.pulseTimesS.length;
      });
    expect(countWith(2, 8)).toEqual([16, 16, 16]);
    // 8 dB under the others it is likelier a pulse than not, but not by as much as a missed beat asks for.
    expect(countWith(2, 4)).toEqual([15, 15, 15]);
    expect(countWith(3, 16)).toEqual([15, 15, 15]);
  });

  test('a row looked for at a dancer’s carrier stays at it where what sounds is more than 12 Hz away', () => {
    const { view, timesS } = made();
    const at = (carrierHz: number, known: { beatS?: number } = {}) =>
      refineTrain(view, { pulseTimesS: timesS, carrierHz, settled: true, ...known })!.carrierHz;
    const measuredHz = at(262);
    expect(Math.abs(measuredHz - 262)).toBeLessThan(2);
    expect(at(measuredHz - 14, { beatS: 0.05 })).toBe(measuredHz - 14);
    expect(Math.abs(at(measuredHz - 9, { beatS: 0.05 }) - measuredHz)).toBeLessThan(1.5);
    // Where nobody is known to sing there, it goes to where the sound is.
    expect(Math.abs(at(measuredHz - 14) - measuredHz)).toBeLessThan(1.5);
  });
});

describe('withoutCalls', () => {
  /** Where a call hides the pulses from one up to another. */
  const callOver = (timesS: readonly number[], from: number, to: number) =>
    [timesS[from]! - 0.024, timesS[to]! + 0.025] as const;
  const leftOf = (
    faint: (pulse: number) => boolean,
    over = (timesS: readonly number[]) => callOver(timesS, 11, 13),
  ) => {
    const { view, timesS } = made(faint);
    const train = refineTrain(view, { pulseTimesS: timesS, carrierHz: 262, settled: true })!;
    const left = withoutCalls(
      { ...view, covered: [over(timesS)] },
      { ...train, chainScore: 20, guided: false },
    );
    const nearest = (timeS: number) => timesS.findIndex((one) => Math.abs(one - timeS) < 0.01);
    return left.pulseTimesS.map(nearest);
  };

  test('leaves out the pulses under a call, and goes on behind it where the next is as strong as others', () => {
    expect(leftOf(() => false)).toEqual([0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 14]);
  });

  test('ends before the call where but one faint pulse stands behind it', () => {
    expect(leftOf((pulse) => pulse === 14)).toEqual([0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
  });

  test('a faint last pulse stays where what sounds before it hides none', () => {
    const between = (timesS: readonly number[]) => [timesS[13]! + 0.02, timesS[14]! - 0.02] as const;
    expect(leftOf((pulse) => pulse === 14, between)).toHaveLength(15);
  });

  const settled = () => {
    const { view, timesS } = made(() => false);
    const train = refineTrain(view, { pulseTimesS: timesS, carrierHz: 262, settled: true })!;
    return { view, timesS, train: { ...train, chainScore: 20, guided: false } };
  };

  test.each([
    [330, 0.45, 0.55],
    [262 + 60, 0.24, 0.3],
    [262 - 60, 0.24, 0.3],
  ])(
    'ends before a call at %d Hz that was taken out where what goes on there is so faint',
    (carrierHz, faint, clear) => {
      const { view, timesS, train } = settled();
      const left = (share: number, spans: readonly (readonly [number, number])[]) =>
        withoutCalls(
          { ...view, takenOut: spans.map((span) => ({ span, onset: [0, 0.02], carrierHz })) },
          {
            ...train,
            pulseRatios: train.pulseRatios.map((ratio, k) => (k >= 12 ? share * train.pulseRatio : ratio)),
          },
        ).pulseTimesS.length;
      const overEnd = [[timesS[12]! - 0.02, timesS.at(-1)! + 0.1]] as const;
      expect(left(faint, overEnd)).toBe(12);
      expect(left(clear, overEnd)).toBe(timesS.length);
      expect(left(2, overEnd)).toBe(timesS.length);
      expect(left(faint, [])).toBe(timesS.length);
      // Where it goes on behind the call it is one train, whatever is left under it.
      expect(left(faint, [[timesS[12]! - 0.02, timesS.at(-1)! - 0.02]])).toBe(timesS.length);
    },
  );

  test('at the onset of a call that was taken out a pulse counts that is as strong as others, and heard at its own carrier', () => {
    const { view, timesS, train } = settled();
    const onset = [timesS[0]! - 0.006, timesS[0]! + 0.014] as const;
    const first = (share: number, beside: number) => {
      const left = withoutCalls(
        {
          ...view,
          covered: [onset],
          takenOut: [{ span: [timesS[0]!, timesS[0]! + 0.005], onset, carrierHz: 350 }],
        },
        {
          ...train,
          pulseRatios: train.pulseRatios.with(0, share * train.pulseRatio),
          pulseBesides: train.pulseBesides.with(0, beside),
        },
      );
      return left.pulseTimesS.length === timesS.length;
    };
    expect(first(0.65, 0.25)).toBe(true);
    expect(first(0.55, 0.25)).toBe(false);
    expect(first(0.65, 0.35)).toBe(false);
  });
});
