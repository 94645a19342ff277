import { beforeAll, describe, expect, test } from 'vitest';
import type { TrainCandidate } from '../../src/dance/find-trains.ts';
import { joinSplits } from '../../src/dance/join-splits.ts';
import { type SegmentView, viewSegment } from '../../src/dance/segment-view.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { refineTrain } from '../../src/dance/train-refinement.ts';
import { seededRandom } from '../../src/random.ts';
import { addTrain, RATE_HZ, whiteNoise } from './made-sound.ts';
import { madeTrain } from './made-train.ts';

describe('joinSplits', () => {
  let view: SegmentView;
  let whole: TrainCandidate;
  beforeAll(() => {
    const samples = whiteNoise(71, 20);
    const times = addTrain(
      samples,
      { startS: 8, pulseCount: 20, carrierHz: 262, snrDb: 15 },
      seededRandom(72),
    );
    view = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
    const rough = { pulseTimesS: times, carrierHz: 262 };
    const refined = refineTrain(view, rough)!;
    whole = { ...refined, chainScore: 30, guided: false };
  });

  /** The two halves of the train, the second set so long after the end of the first. */
  const halves = (gapS: number, more: Partial<TrainCandidate> = {}): [TrainCandidate, TrainCandidate] => {
    const [first, second] = [whole.pulseTimesS.slice(0, 10), whole.pulseTimesS.slice(10)];
    const endS = first.at(-1)! + 0.0125;
    return [
      { ...whole, pulseTimesS: first, endS, chainScore: 10 },
      { ...whole, pulseTimesS: second, startS: endS + gapS, chainScore: 20, ...more },
    ];
  };

  test.each([[-0.09], [0], [0.019], [0.39]])('halves %f s apart are one train', (gapS) => {
    const [joined, ...others] = joinSplits(() => view, halves(gapS));
    expect(others).toEqual([]);
    expect(joined!.pulseTimesS).toHaveLength(whole.pulseTimesS.length);
    expect(joined!.startS).toBeCloseTo(whole.startS, 3);
    expect(joined!.endS).toBeCloseTo(whole.endS, 3);
    expect(joined!.chainScore).toBe(30);
  });

  test.each([
    [20, 10, 1],
    [20, 11, 2],
    [8, 13.5, 1],
    [8, 14.5, 2],
  ])('parts of %d pulses each, %f Hz apart, are %d', (pulseCount, apartHz, count) => {
    const first = madeTrain(8, { pulseCount });
    const second = madeTrain(first.endS + 0.05, { pulseCount, carrierHz: 260 + apartHz });
    expect(joinSplits(() => view, [first, second])).toHaveLength(count);
  });

  test('seven pulses in all may be joined, six may not', () => {
    const [first, second] = halves(0);
    const joined = (count: number) =>
      joinSplits(
        () => view,
        [
          { ...first, pulseTimesS: first.pulseTimesS.slice(-3) },
          { ...second, pulseTimesS: second.pulseTimesS.slice(0, count) },
        ],
      ).length;
    expect(joined(4)).toBe(1);
    expect(joined(3)).toBe(2);
  });

  test('what is joined was looked for only where both halves were', () => {
    const [first, second] = halves(0);
    const guided = (a: boolean, b: boolean) =>
      joinSplits(
        () => view,
        [
          { ...first, guided: a },
          { ...second, guided: b },
        ],
      ).map((train) => train.guided);
    expect(guided(true, true)).toEqual([true]);
    expect(guided(true, false)).toEqual([false]);
    expect(guided(false, true)).toEqual([false]);
  });

  test('from what the halves were found apart, the whole was', () => {
    const [first, second] = halves(0);
    const [joined] = joinSplits(
      () => view,
      [
        { ...first, apartFrom: [whole] },
        { ...second, apartFrom: [whole] },
      ],
    );
    expect(joined!.apartFrom).toEqual([whole]);
    expect(joinSplits(() => view, [first, second])[0]!.apartFrom).toBeUndefined();
  });

  test('are not joined where the whole is worth less than one of them: it holds something of another dancer', () => {
    const [first, second] = halves(0);
    const worth = (of: TrainCandidate, evidence: number) => ({ ...of, evidence });
    const joined = (a: number, b: number) =>
      joinSplits(() => view, [worth(first, a), worth(second, b)]).length;
    expect(joined(0.9 * whole.evidence, 5)).toBe(1);
    expect(joined(1.1 * whole.evidence, 5)).toBe(2);
    expect(joined(5, 1.1 * whole.evidence)).toBe(2);
  });

  test('parts that overlap for long are one train where they have the same pulses there', () => {
    // Twelve pulses from the start, and ten to the end but two: the third of a second that both have is one sound.
    const first = { ...whole, pulseTimesS: whole.pulseTimesS.slice(0, 12) };
    const second = { ...whole, pulseTimesS: whole.pulseTimesS.slice(6) };
    const overlapping = [
      { ...first, endS: first.pulseTimesS.at(-1)! + 0.0125 },
      { ...second, startS: second.pulseTimesS[0]! - 0.0125, endS: whole.endS },
    ];
    const [joined, ...others] = joinSplits(() => view, overlapping);
    expect(others).toEqual([]);
    expect(joined!.pulseTimesS).toHaveLength(whole.pulseTimesS.length);
    // Half a beat off they are another's.
    const between = overlapping[1]!.pulseTimesS.map((timeS) => timeS + 0.025);
    expect(
      joinSplits(() => view, [overlapping[0]!, { ...overlapping[1]!, pulseTimesS: between }]),
    ).toHaveLength(2);
    // Nothing is joined to what it holds.
    expect(joinSplits(() => view, [whole, overlapping[1]!])).toHaveLength(2);
  });

  test.each([
    ['that share more than a tenth of a second, with other pulses', -0.11, {}],
    ['with time for a return phase', 0.41, {}],
    ['of two carriers', 0.03, { carrierHz: 280 }],
    ['of two beats', 0.03, { beatS: 0.06 }],
  ])('halves %s stay two', (_, gapS, more) => {
    expect(joinSplits(() => view, halves(gapS, more))).toHaveLength(2);
  });
});
