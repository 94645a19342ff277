import { expect, test } from 'vitest';
import { findTrains } from '../../src/dance/find-trains.ts';
import { viewSegment } from '../../src/dance/segment-view.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { seededRandom } from '../../src/random.ts';
import { addTone, addTrain, RATE_HZ, whiteNoise } from './made-sound.ts';

/** A train at 260 Hz whose pulses sound at twice and three times the carrier too, so much over the noise. */
function withHarmonics(secondDb: number, thirdDb: number) {
  const samples = whiteNoise(61, 8);
  const middles = addTrain(
    samples,
    { startS: 3, pulseCount: 20, carrierHz: 260, snrDb: 10 },
    seededRandom(62),
  );
  for (const middleS of middles) {
    addTone(samples, middleS - 0.0125, 0.025, 520, secondDb);
    addTone(samples, middleS - 0.0125, 0.025, 780, thirdDb);
  }
  return samples;
}

test.each([
  [-20, -20],
  [13, 10],
  [16, 16],
  [26, 26],
])('pulses with harmonics of %d and %d dB are no knocks: the train is found whole', (secondDb, thirdDb) => {
  const trains = findTrains(viewSegment(withHarmonics(secondDb, thirdDb), RATE_HZ, DEFAULT_SETTINGS));
  const found = trains.filter(({ carrierHz }) => Math.abs(carrierHz - 260) < 10);
  expect(found).toHaveLength(1);
  expect(found[0]!.pulseTimesS.length).toBeGreaterThanOrEqual(19);
});

test('knocks on a beat, which sound everywhere, make no train', () => {
  const samples = whiteNoise(63, 8);
  const random = seededRandom(64);
  for (let knock = 0; knock < 20; knock++) {
    const from = Math.round((3 + 0.05 * knock) * RATE_HZ);
    for (let n = 0; n < 0.02 * RATE_HZ; n++) samples[from + n]! += 8 * random.normal();
  }
  const trains = findTrains(viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS));
  const likely = trains.filter(({ pulseTimesS }) => pulseTimesS.length >= 10);
  expect(likely).toHaveLength(0);
});
