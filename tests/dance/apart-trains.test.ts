import { beforeAll, describe, expect, test } from 'vitest';
import { findApart } from '../../src/dance/apart-trains.ts';
import { type Alone, companyOf } from '../../src/dance/company.ts';
import type { TrainCandidate } from '../../src/dance/find-trains.ts';
import { hiddenBy } from '../../src/dance/hidden.ts';
import { hiddenTimeS } from '../../src/dance/hidden-time.ts';
import { weighTrains } from '../../src/dance/judge-trains.ts';
import { withoutOverlaps } from '../../src/dance/rivals.ts';
import { type SegmentView, viewSegment } from '../../src/dance/segment-view.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { refineTrain } from '../../src/dance/train-refinement.ts';
import { seededRandom } from '../../src/random.ts';
import { addTrain, RATE_HZ, whiteNoise } from './made-sound.ts';

test('hidden time is what calls cover and what trains taken out leave too little of, in steps of 4 ms', () => {
  const view = viewSegment(whiteNoise(25, 8), RATE_HZ, DEFAULT_SETTINGS);
  const train = { startS: 2, endS: 3, carrierHz: 260 };
  const hidden = (more: Partial<SegmentView>) => hiddenTimeS({ ...view, ...more }, train);
  expect(hidden({})).toBe(0);
  expect(Math.abs(hidden({ covered: [[2.5, 2.7]] }) - 0.2)).toBeLessThan(0.005);
  expect(hidden({ covered: [[3.1, 3.4]] })).toBe(0);
  // Hidden is a place with less than three tenths of a pulse left.
  const hiddenAt = (timeS: number, carrierHz: number) =>
    timeS > 2.2 && timeS < 2.3 ? 0.8 : timeS > 2.6 && carrierHz > 250 ? 0.6 : 0;
  expect(Math.abs(hidden({ hiddenAt }) - 0.1)).toBeLessThan(0.005);
  expect(Math.abs(hidden({ hiddenAt, covered: [[2.25, 2.45]] }) - 0.25)).toBeLessThan(0.005);
});

describe('findApart', () => {
  let view: SegmentView;
  let loud: TrainCandidate;
  let faintTimesS: number[];
  // A run at 285 Hz under a louder one at 250 Hz, at another beat.
  beforeAll(() => {
    const samples = whiteNoise(21, 30);
    const random = seededRandom(22);
    const times = addTrain(
      samples,
      { startS: 14, pulseCount: 36, carrierHz: 250, beatS: 0.034, snrDb: 13 },
      random,
    );
    faintTimesS = addTrain(
      samples,
      { startS: 14.2, pulseCount: 12, carrierHz: 285, beatS: 0.062, snrDb: 10 },
      random,
    );
    view = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
    const refined = refineTrain(view, { pulseTimesS: times, carrierHz: 250, settled: true })!;
    loud = { ...refined, chainScore: 30, guided: false };
  });
  const guide = { carrierHz: 285, beatS: 0.062, strength: 20, fromS: 8, toS: 22 };

  test('finds the run under another, names what was taken out, and tells how long that hides it', () => {
    const { rest, trains } = findApart(view, guide, [loud])!;
    const [found] = trains.filter(({ startS }) => Math.abs(startS - 14.2) < 0.1);
    expect(Math.abs(found!.endS - faintTimesS.at(-1)!)).toBeLessThan(0.1);
    expect(found!.apartFrom).toEqual([loud]);
    // In steps of 4 ms, how long less than three tenths of a pulse would be left.
    const hiddenAt = hiddenBy([loud]);
    let hiddenS = 0;
    for (let timeS = found!.startS; timeS < found!.endS; timeS += 0.004) {
      if (hiddenAt(timeS, found!.carrierHz) > 0.7) hiddenS += 0.004;
    }
    expect(hiddenTimeS(rest, found!)).toBeCloseTo(hiddenS, 9);
    expect(hiddenS).toBeLessThan(0.5 * (found!.endS - found!.startS));
    expect(rest.hiddenAt!(loud.pulseTimesS[5]!, loud.carrierHz)).toBeCloseTo(1, 6);
  });

  test('looks once where two that were taken out are near each other', () => {
    const laterS = 1.4;
    const later = {
      ...loud,
      startS: loud.startS + laterS,
      endS: loud.endS + laterS,
      pulseTimesS: loud.pulseTimesS.map((timeS) => timeS + laterS),
    };
    const { trains } = findApart(view, guide, [later, loud])!;
    expect(trains.filter(({ startS }) => Math.abs(startS - 14.2) < 0.1)).toHaveLength(1);
  });

  test('tells no more of a run that the other merely touches: that was to be found before', () => {
    const foundWith = (pulseCount: number): { sharedS: number; count: number } => {
      const samples = whiteNoise(23, 30);
      const random = seededRandom(24);
      const loudRun = { startS: 13.2, pulseCount, carrierHz: 250, beatS: 0.034, snrDb: 13, jitter: 0 };
      const times = addTrain(samples, loudRun, random);
      addTrain(samples, { startS: 14.2, pulseCount: 12, carrierHz: 285, beatS: 0.062, snrDb: 10 }, random);
      const both = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
      const refined = refineTrain(both, { pulseTimesS: times, carrierHz: 250, settled: true })!;
      const other = { ...refined, chainScore: 30, guided: false };
      const { trains } = findApart(both, guide, [other])!;
      const count = trains.filter(({ startS }) => Math.abs(startS - 14.2) < 0.1).length;
      return { sharedS: other.endS - 14.2, count };
    };
    const [touched, shared] = [foundWith(30), foundWith(35)];
    expect(touched.sharedS).toBeGreaterThan(0);
    expect(touched.sharedS).toBeLessThan(0.045);
    expect(touched.count).toBe(0);
    expect(shared.sharedS).toBeGreaterThan(0.15);
    expect(shared.sharedS).toBeLessThan(0.25);
    expect(shared.count).toBe(1);
  });

  test('takes out none that is less than 11 Hz or from 110 Hz on away, nor one elsewhere', () => {
    const at = (carrierHz: number) => findApart(view, { ...guide, carrierHz }, [loud]);
    const hz = loud.carrierHz;
    expect(at(hz + 10.9)).toBeNull();
    expect(at(hz + 11.1)).not.toBeNull();
    expect(at(hz + 109.9)).not.toBeNull();
    expect(at(hz + 110.1)).toBeNull();
    // Others are taken out to 3 s beyond the dance’s own runs, and a guide reaches 6 s beyond them.
    const between = (fromS: number, toS: number) => findApart(view, { ...guide, fromS, toS }, [loud]);
    expect(between(loud.endS - 3 - 0.01, 40)).not.toBeNull();
    expect(between(loud.endS - 3 + 0.01, 40)).toBeNull();
    expect(between(0, loud.startS + 3 + 0.01)).not.toBeNull();
    expect(between(0, loud.startS + 3 - 0.01)).toBeNull();
  });
});

describe('hiddenBy', () => {
  test('counts pulses before a moment as those after it', () => {
    const hidden = hiddenBy([{ pulseTimesS: [1], carrierHz: 260 }]);
    expect(hidden(1.005, 260)).toBeCloseTo(Math.exp(-0.5), 9);
    expect(hidden(0.995, 260)).toBeCloseTo(Math.exp(-0.5), 9);
    // Further than 16 ms away, where less than 1 % would go, it hides nothing.
    expect(hidden(1.0159, 260)).toBeGreaterThan(0);
    expect(hidden(1.0161, 260)).toBe(0);
  });
});

test('what was looked for because of others is no company that stands out by itself', () => {
  const samples = whiteNoise(31, 40);
  const random = seededRandom(32);
  // Four clear runs of a dance, and between them three faint ones, which its carrier and beat bring out better.
  for (let k = 0; k < 7; k++) {
    const snrDb = k % 2 === 0 ? 9 : 1;
    addTrain(samples, { startS: 10 + 3 * k, pulseCount: 14, carrierHz: 265, snrDb }, random);
  }
  const weighed = weighTrains(viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS), []);
  expect(weighed.some(({ train, alone }) => train.guided && alone > 0.5)).toBe(true);
  const company = (among: readonly Alone[], one: Alone) => {
    const others = withoutOverlaps(among, ({ alone }) => alone);
    return companyOf(one, { others, unguided: [], all: [] }).likely;
  };
  const byThemselves = weighed.filter(({ train }) => !train.guided);
  for (const one of weighed) {
    expect(one.company.likely).toBeCloseTo(company(weighed, one), 9);
    expect(one.company.unguided).toBeCloseTo(company(byThemselves, one), 9);
  }
  expect(weighed.some((one) => Math.abs(one.company.likely - one.company.unguided) > 0.01)).toBe(true);
});
