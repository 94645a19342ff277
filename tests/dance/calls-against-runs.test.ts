import { describe, expect, test } from 'vitest';
import { detectSounds } from '../../src/dance/detect.ts';
import { detectInSegment } from '../../src/dance/detect-segment.ts';
import { likeliestTones } from '../../src/dance/judge.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { seededRandom } from '../../src/random.ts';
import { addTone, addTrain, RATE_HZ, whiteNoise } from './made-sound.ts';
import { madeTone } from './made-tone.ts';

/** A dance of eight runs at 280 Hz, 1 s each. */
const STARTS_S = [4, 7, 10, 13, 16, 19, 22, 25];

function dance(): Float32Array {
  const samples = whiteNoise(7, 32);
  const random = seededRandom(8);
  for (const startS of STARTS_S) {
    addTrain(samples, { startS, pulseCount: 20, carrierHz: 280, snrDb: 8 }, random);
  }
  return samples;
}

/** A begging call: an unbroken tone of 120 ms at 320 Hz (Michelsen, Kirchner & Lindauer 1986), 8 dB. */
function addCall(samples: Float32Array, startS: number): void {
  const amplitude = Math.sqrt(2 * 10 ** 0.8 * 0.2);
  for (let n = 0; n < 0.12 * RATE_HZ; n++) {
    const envelope = Math.min(1, n / 20, (0.12 * RATE_HZ - n) / 20);
    const at = Math.round(startS * RATE_HZ) + n;
    samples[at]! += amplitude * envelope * Math.sin((2 * Math.PI * 320 * n) / RATE_HZ);
  }
}

async function runsIn(samples: Float32Array) {
  const blocks = (async function* () {
    yield samples;
  })();
  const { trains } = await detectSounds([{ channel: 1, blocks }], RATE_HZ, DEFAULT_SETTINGS);
  return trains;
}

describe('a begging call', () => {
  test('against a run, or amid it, neither lengthens nor cuts it by half a beat', async () => {
    const plain = await runsIn(dance());
    expect(plain).toHaveLength(STARTS_S.length);
    const samples = dance();
    addCall(samples, plain[1]!.endS + 0.02);
    addCall(samples, plain[3]!.startS - 0.14);
    addCall(samples, plain[5]!.startS + 0.4);
    const runs = await runsIn(samples);
    expect(runs).toHaveLength(plain.length);
    runs.forEach((run, k) => {
      expect(Math.abs(run.startS - plain[k]!.startS)).toBeLessThan(0.025);
      expect(Math.abs(run.endS - plain[k]!.endS)).toBeLessThan(0.025);
    });
  });

  test('is listed once, though its octave sounds too', () => {
    const tone = (carrierHz: number) => madeTone({ carrierHz });
    expect(likeliestTones([tone(310), tone(615)]).map(({ carrierHz }) => carrierHz)).toEqual([310]);
    expect(likeliestTones([tone(310), tone(560)])).toHaveLength(2);
  });
});

describe('a tone amid a run', () => {
  const callsAt = (tone: (samples: Float32Array) => void, beatS: number, pulseCount: number) => {
    const samples = whiteNoise(9, 32);
    const random = seededRandom(10);
    for (const startS of STARTS_S) {
      addTrain(samples, { startS, pulseCount, carrierHz: 260, beatS, snrDb: 10 }, random);
    }
    tone(samples);
    const segment = { samples, sampleRateHz: RATE_HZ, startS: 0, coreStartS: 0, coreEndS: 32 };
    return detectInSegment(segment, DEFAULT_SETTINGS).calls.filter(
      ({ startS }) => Math.abs(startS - 13.4) < 0.05,
    );
  };

  test('is a call where it is 55 Hz away', () => {
    const [call, ...others] = callsAt((samples) => addTone(samples, 13.4, 0.12, 315, 15), 0.05, 20);
    expect(others).toEqual([]);
    expect(Math.abs(call!.carrierHz - 315)).toBeLessThan(5);
  });
});
