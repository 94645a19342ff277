import { describe, expect, test } from 'vitest';
import { findTrains, sharedPulses, type TrainCandidate } from '../../src/dance/find-trains.ts';
import { withoutMixtures, withoutOverlaps } from '../../src/dance/rivals.ts';
import { viewSegment } from '../../src/dance/segment-view.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { seededRandom } from '../../src/random.ts';
import { addTrain, RATE_HZ, whiteNoise } from './made-sound.ts';
import { madeTrain } from './made-train.ts';

const both = (one: TrainCandidate, other: TrainCandidate) =>
  withoutOverlaps(
    [
      { train: one, rank: 2 },
      { train: other, rank: 1 },
    ],
    ({ rank }) => rank,
  ).length === 2;

/** Pulses of its own, half a beat from those of a train that begins with it. */
const between = (startS: number, more: Partial<TrainCandidate> = {}) => madeTrain(startS + 0.025, more);

test('of candidates for one train the likeliest stays, of two alike the first', () => {
  const [early, late] = [madeTrain(20), madeTrain(20.01)];
  const kept = (earlyRank: number, lateRank: number) =>
    withoutOverlaps(
      [
        { train: late, rank: lateRank },
        { train: early, rank: earlyRank },
      ],
      ({ rank }) => rank,
    ).map(({ train }) => train);
  expect(kept(2, 1)).toEqual([early]);
  expect(kept(1, 2)).toEqual([late]);
  expect(kept(1, 1)).toEqual([early]);
});

describe('two candidates at once', () => {
  test('nearer than 11 Hz are one train, and stay two where they hardly overlap', () => {
    expect(both(madeTrain(20), between(20, { carrierHz: 270.9, beatS: 0.06 }))).toBe(false);
    // Of half a second three tenths in common, and a little less.
    expect(both(madeTrain(20), madeTrain(20.32))).toBe(false);
    expect(both(madeTrain(20), madeTrain(20.375))).toBe(true);
  });

  test('11 to 25 Hz apart are one train where their beat is the same', () => {
    expect(both(madeTrain(20), between(20, { carrierHz: 284 }))).toBe(false);
    expect(both(madeTrain(20), between(20, { carrierHz: 286 }))).toBe(true);
    expect(both(madeTrain(20), between(20, { carrierHz: 284, beatS: 0.05 * Math.exp(0.13) }))).toBe(true);
    expect(both(madeTrain(20), between(20, { carrierHz: 284, beatS: 0.05 * Math.exp(0.11) }))).toBe(false);
  });

  test('are one where more than six tenths of the pulses are, further apart too', () => {
    const pulses = madeTrain(20).pulseTimesS;
    const own = pulses.map((timeS) => timeS + 0.025);
    // The less likely is asked how many of its pulses the likelier has.
    const shares = (count: number) =>
      madeTrain(20, {
        carrierHz: 300,
        beatS: 0.06,
        pulseTimesS: [...pulses.slice(0, count), ...own.slice(count)],
      });
    expect(both(madeTrain(20), shares(7))).toBe(false);
    expect(both(madeTrain(20), shares(6))).toBe(true);
  });

  test('are two, whatever pulses and beat they share, where both are tuned to carriers 15 Hz apart', () => {
    // Every pulse of the second is one of the first; the second is asked for its own tuning, and the first for hers.
    const shares = (apartHz: number, tuning: number, pulseCount: number, ownCount = 0) => {
      const pulseTimesS = [
        ...madeTrain(20).pulseTimesS.slice(0, pulseCount),
        ...madeTrain(20.575).pulseTimesS.slice(0, ownCount),
      ];
      return madeTrain(20, { carrierHz: 260 + apartHz, tuning, pulseTimesS });
    };
    const first = madeTrain(20, { tuning: 1.2 });
    expect(both(first, shares(15, 0.91, 10))).toBe(true);
    expect(both(first, shares(14, 0.91, 10))).toBe(false);
    expect(both(first, shares(15, 0.89, 10))).toBe(false);
    expect(both({ ...first, tuning: 0.89 }, shares(15, 0.91, 10))).toBe(false);
    // Far apart, and where no more than eight tenths of its pulses are those of the other, less will do.
    expect(both(first, shares(21, 0.71, 10))).toBe(true);
    expect(both(first, shares(21, 0.69, 10))).toBe(false);
    expect(both(first, shares(21, 0.51, 8, 2))).toBe(true);
    expect(both(first, shares(21, 0.49, 8, 2))).toBe(false);
    expect(both(first, shares(16, 0.71, 8, 2))).toBe(true);
    expect(both(first, shares(16, 0.69, 8, 2))).toBe(false);
  });

  test('60 Hz apart or more are one where they keep step from start to end, at most 15 ms apart', () => {
    // Every 50 ms, with some jitter: the second the same, a little later.
    const random = seededRandom(71);
    const times = (count: number, jitterS: number) =>
      Array.from({ length: count }, (_, k) => 20 + 0.05 * k + jitterS * random.normal());
    const first = madeTrain(20, { pulseTimesS: times(20, 0.002) });
    const later = (lagS: number, more: Partial<TrainCandidate> = {}) => {
      const pulseTimesS = first.pulseTimesS.map((timeS) => timeS + lagS);
      return madeTrain(pulseTimesS[0]!, { carrierHz: 330, pulseTimesS, ...more });
    };
    expect(both(first, later(0.01))).toBe(false);
    expect(both(first, later(-0.01))).toBe(false);
    expect(both(first, later(0.02))).toBe(true);
    expect(both(first, later(0.01, { carrierHz: 310 }))).toBe(true);
    expect(both(first, madeTrain(20.6, { carrierHz: 330, pulseCount: 20 }))).toBe(true);
    // No step: an own beat, a tenth slower.
    expect(both(first, madeTrain(20.01, { carrierHz: 330, pulseCount: 18, beatS: 0.055 }))).toBe(true);
  });

  test('are one where one is the other’s octave', () => {
    expect(both(madeTrain(20), between(20, { carrierHz: 549 }))).toBe(false);
    expect(both(madeTrain(20), between(20, { carrierHz: 551 }))).toBe(true);
  });

  test('are two where one was found when the other, or another reading of it, had been taken out', () => {
    const part = madeTrain(20, { carrierHz: 280 });
    const found = between(20, { carrierHz: 268, apartFrom: [part] });
    expect(both(part, found)).toBe(true);
    expect(both({ ...part, carrierHz: 287 }, found)).toBe(true);
    expect(both({ ...part, carrierHz: 289 }, found)).toBe(false);
    // That overlaps the part nowhere is no reading of it.
    const later = madeTrain(20.51, { carrierHz: 280 });
    expect(both(later, between(20.3, { carrierHz: 268, apartFrom: [part] }))).toBe(false);
  });
});

test('pulses are shared within 8 ms and 110 Hz', () => {
  const one = madeTrain(20, { pulseCount: 4 });
  expect(sharedPulses(one, madeTrain(20.007, { pulseCount: 4 }))).toBe(4);
  expect(sharedPulses(one, madeTrain(20.009, { pulseCount: 4 }))).toBe(0);
  expect(sharedPulses(one, madeTrain(20, { pulseCount: 2, carrierHz: 369 }))).toBe(2);
  expect(sharedPulses(one, madeTrain(20, { pulseCount: 2, carrierHz: 371 }))).toBe(0);
});

describe('withoutMixtures', () => {
  /** Half of its pulses at either dancer's carrier are none at its own. */
  const whole = madeTrain(20, { pulseCount: 20, tuning: 0.2 });
  /** Two dancers' runs that follow each other, the second's carrier so much lower. */
  const parts = (cut: number, carrierHz = whole.carrierHz, lowerHz = 12) => [
    madeTrain(20, { pulseTimesS: whole.pulseTimesS.slice(0, cut), carrierHz }),
    madeTrain(20 + cut * 0.05, { pulseTimesS: whole.pulseTimesS.slice(cut), carrierHz: carrierHz - lowerHz }),
  ];
  const left = (trains: readonly TrainCandidate[], confidence = 0.8) =>
    withoutMixtures([
      { train: whole, confidence: 0.7 },
      ...trains.map((train) => ({ train, confidence })),
    ]).some(({ train }) => train === whole);

  test('gives up what two others, together likelier, are made of', () => {
    expect(left(parts(10))).toBe(false);
    // ln odds of 0.55 and 0.55 are 0.4 together, those of 0.7 are 0.85.
    expect(left(parts(10), 0.55)).toBe(true);
    expect(left(parts(10), 0.49)).toBe(true);
  });

  test('keeps it where one other alone has nearly all of its pulses: that is a reading of the same', () => {
    expect(left(parts(16))).toBe(false);
    expect(left(parts(17))).toBe(true);
  });

  test('keeps it where the two have less than eight tenths of its pulses between them', () => {
    const [first, second] = parts(10);
    const short = (count: number) => ({ ...second!, pulseTimesS: second!.pulseTimesS.slice(0, count) });
    expect(left([first!, short(6)])).toBe(false);
    expect(left([first!, short(5)])).toBe(true);
  });

  test('keeps it where it keeps its carrier nearly as well as one of the two', () => {
    const [first, second] = parts(10);
    expect(left([first!, { ...second!, tuning: 0.36 }])).toBe(false);
    expect(left([first!, { ...second!, tuning: 0.34 }])).toBe(true);
    expect(left([{ ...first!, tuning: 0.34 }, second!])).toBe(true);
  });

  test('keeps it where the two are 45 Hz away', () => {
    expect(left(parts(10, 304))).toBe(false);
    expect(left(parts(10, 306))).toBe(true);
  });

  test('keeps it where the two are at one carrier and beat, with no time for a return phase between', () => {
    expect(left(parts(10, whole.carrierHz, 10.9))).toBe(true);
    expect(left(parts(10, whole.carrierHz, 11.1))).toBe(false);
    const [first, second] = parts(10, whole.carrierHz, 0);
    expect(left([first!, { ...second!, beatS: second!.beatS * 1.16 }])).toBe(false);
  });
});

test('of what is found twice, at two carriers, only what has more evidence stays, unless it has pulses of its own', () => {
  const found = (shared: number) => {
    const samples = whiteNoise(91, 20);
    const made = { carrierHz: 250, snrDb: 15, jitter: 0 };
    addTrain(samples, { ...made, startS: 8, pulseCount: 20 }, seededRandom(92));
    const startS = 8 + 0.05 * (20 - shared);
    addTrain(samples, { ...made, startS, pulseCount: 10, carrierHz: 345 }, seededRandom(93));
    return findTrains(viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS)).some(
      (train) => Math.abs(train.carrierHz - 345) < 15 && Math.abs(train.startS - startS) < 0.06,
    );
  };
  expect(found(4)).toBe(true);
  expect(found(8)).toBe(false);
});
