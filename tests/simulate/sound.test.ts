import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import {
  beggingCall,
  briefBuzz,
  callLengthS,
  knock,
  placeCall,
  queenQuacking,
  queenTooting,
  workerPiping,
} from '../../src/simulate/call-sounds.ts';
import { audibleBounds, envelopeAt, envelopeOfAudibleLength } from '../../src/simulate/envelope.ts';
import { resample } from '../../src/simulate/resample.ts';
import { addSound, soundingPower, toUnitPower } from '../../src/simulate/sound.ts';

describe('envelopes', () => {
  it.each([
    ['cosine', 0.5, 0.5],
    ['cosine', 0.1, 0.3],
    ['exponential', 0.15, 0.85],
    ['exponential', 0.1, 0.5],
  ] as const)('%s with rise %f and fall %f sounds for the length asked for', (fall, rise, decline) => {
    const envelope = envelopeOfAudibleLength(0.02, rise, decline, fall);
    const { onsetS, offsetS } = audibleBounds(envelope);
    expect(offsetS - onsetS).toBeCloseTo(0.02, 9);
    // Found again by search: the first and the last time at which the amplitude exceeds a tenth of its peak.
    const times = Array.from({ length: 100_001 }, (_, step) => (0.1 * step) / 100_000);
    const loud = times.filter((timeS) => envelopeAt(envelope, timeS) > 0.1);
    expect(loud[0]).toBeCloseTo(onsetS, 5);
    expect(loud[loud.length - 1]).toBeCloseTo(offsetS, 5);
    expect(Math.max(...times.map((timeS) => envelopeAt(envelope, timeS)))).toBeCloseTo(1, 3);
  });
});

describe('sounds', () => {
  const random = seededRandom(41);
  it.each([
    ['begging', beggingCall, 0.06, 0.2, 300, 410],
    ['piping', workerPiping, 0.6, 1.2, 330, 430],
    ['tooting', queenTooting, 3, 12, 400, 500],
    ['quacking', queenQuacking, 0.5, 3.2, 320, 385],
    ['buzz', briefBuzz, 0.1, 1, 200, 260],
    ['knock', knock, 0.005, 0.04, null, null],
  ] as const)('%s keeps to its length and pitch', (_, make, shortestS, longestS, lowHz, highHz) => {
    for (let trial = 0; trial < 50; trial++) {
      const shape = make(random);
      expect(callLengthS(shape)).toBeGreaterThanOrEqual(shortestS);
      expect(callLengthS(shape)).toBeLessThanOrEqual(longestS);
      if (lowHz === null) expect(shape.carrierHz).toBeNull();
      else {
        expect(shape.carrierHz).toBeGreaterThanOrEqual(lowHz);
        expect(shape.carrierHz).toBeLessThanOrEqual(highHz);
      }
    }
  });

  it('has the power reckoned for it once rendered', () => {
    for (const shape of [beggingCall(random), workerPiping(random), briefBuzz(random)]) {
      const [sound] = toUnitPower(placeCall(shape, 1, 0));
      const { onsetS, offsetS } = audibleBounds(sound!.envelope);
      for (const rateHz of [8000, 44_100]) {
        const first = Math.ceil((sound!.startS + onsetS) * rateHz);
        const samples = new Float32Array(Math.floor((sound!.startS + offsetS) * rateHz) - first);
        addSound(sound!, samples, first, rateHz, 1);
        const power = samples.reduce((sum, sample) => sum + sample ** 2, 0) / samples.length;
        expect(Math.abs(10 * Math.log10(power))).toBeLessThan(0.1);
      }
      expect(soundingPower(sound!) * sound!.gain ** 2).toBeCloseTo(1, 9);
    }
  });
});

describe('resample', () => {
  it.each([
    [8000, 44_100],
    [44_100, 8000],
    [48_000, 16_000],
    [22_050, 96_000],
  ])('keeps tones from %i to %i Hz and lets nothing fold back', (fromHz, toHz) => {
    const tone = (frequencyHz: number, rateHz: number) =>
      Float32Array.from({ length: rateHz }, (_, index) =>
        Math.sin((2 * Math.PI * frequencyHz * index) / rateHz),
      );
    const inner = (samples: Float32Array) => samples.subarray(0.1 * toHz, 0.9 * toHz);
    for (const frequencyHz of [60, 300, 2500]) {
      const got = inner(resample(tone(frequencyHz, fromHz), fromHz, toHz));
      const wanted = inner(tone(frequencyHz, toHz));
      const worst = got.reduce((most, sample, index) => Math.max(most, Math.abs(sample - wanted[index]!)), 0);
      expect(worst).toBeLessThan(1e-3);
    }
    if (toHz < fromHz) {
      const got = inner(resample(tone(0.6 * toHz, fromHz), fromHz, toHz));
      expect(Math.max(...got.map(Math.abs))).toBeLessThan(1e-3);
    }
  });
});
