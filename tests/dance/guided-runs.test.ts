import { expect, test } from 'vitest';
import { guidedRuns } from '../../src/dance/guided-runs.ts';
import { viewSegment } from '../../src/dance/segment-view.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { refineTrain } from '../../src/dance/train-refinement.ts';
import { seededRandom } from '../../src/random.ts';
import { addTrain, BEAT_S, RATE_HZ, whiteNoise } from './made-sound.ts';

const CARRIER_HZ = 262;

/** Rows found in made sound of two trains, the second so long after the last pulse of the first, middle to middle. */
function rowsOf(apartS: number) {
  const samples = whiteNoise(81, 20);
  const made = { pulseCount: 12, carrierHz: CARRIER_HZ, snrDb: 14, jitter: 0 };
  const random = seededRandom(82);
  const first = addTrain(samples, { ...made, startS: 8 }, random);
  addTrain(samples, { ...made, startS: first.at(-1)! - 0.0125 + apartS }, random);
  const view = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
  const rough = { pulseTimesS: first, carrierHz: CARRIER_HZ };
  const { pulseRatio } = refineTrain(view, rough)!;
  const guide = { carrierHz: CARRIER_HZ, beatS: BEAT_S, strength: pulseRatio, fromS: 7, toS: 11 };
  return guidedRuns(view, guide).sort((a, b) => a.pulseTimesS[0]! - b.pulseTimesS[0]!);
}

test('finds both rows of a dancer where there is time between them', () => {
  const [first, second, ...others] = rowsOf(1.2);
  expect(others).toEqual([]);
  expect(first!.pulseTimesS).toHaveLength(12);
  expect(second!.pulseTimesS).toHaveLength(12);
});

test('a row never begins within 0.15 s of another: no dancer is back so soon', () => {
  for (const apartS of [0.1, 0.12, 0.14]) {
    const rows = rowsOf(apartS);
    const times = rows.map(({ pulseTimesS }) => pulseTimesS);
    expect(Math.max(...times.map((row) => row.length))).toBeGreaterThanOrEqual(11);
    const gapsS = times.slice(1).map((row, k) => row[0]! - times[k]!.at(-1)!);
    for (const gapS of gapsS) expect(gapS).toBeGreaterThanOrEqual(0.15);
  }
});

test('goes on behind a call, and has no pulse of what the call covers', () => {
  const samples = whiteNoise(83, 20);
  const made = { startS: 8, pulseCount: 14, carrierHz: CARRIER_HZ, snrDb: 14, jitter: 0 };
  const times = addTrain(samples, made, seededRandom(84));
  const view = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
  const { pulseRatio } = refineTrain(view, { pulseTimesS: times, carrierHz: CARRIER_HZ })!;
  const guide = { carrierHz: CARRIER_HZ, beatS: BEAT_S, strength: pulseRatio, fromS: 7, toS: 10 };
  // The seventh and eighth pulse: of where a call covers them nothing is known.
  const covered = [[times[6]! - 0.019, times[7]! + 0.02]] as const;
  const [row, ...others] = guidedRuns({ ...view, covered }, guide);
  expect(others).toEqual([]);
  const found = row!.pulseTimesS.map((timeS) => times.findIndex((one) => Math.abs(one - timeS) < 0.012));
  expect(found).toEqual([0, 1, 2, 3, 4, 5, 8, 9, 10, 11, 12, 13]);
  expect(guidedRuns(view, guide)[0]!.pulseTimesS).toHaveLength(14);
});
