import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { bandFilter, bandShapes } from '../../src/signal/band-filter.ts';
import { type BiquadShape, biquadCascade, biquadOf, responseOf } from '../../src/signal/biquad.ts';
import { loadWebAudio } from './web-audio.ts';

const RATE_HZ = 44_100;

const SHAPES: readonly BiquadShape[] = [
  { type: 'lowpass', frequencyHz: 400, qDb: -3.01 },
  { type: 'lowpass', frequencyHz: 5000, qDb: 9 },
  { type: 'highpass', frequencyHz: 200, qDb: 4 },
  { type: 'bandpass', frequencyHz: 265, q: 4 },
  { type: 'notch', frequencyHz: 50, q: 10 },
  { type: 'peaking', frequencyHz: 320, q: 1.5, gainDb: 7 },
  { type: 'peaking', frequencyHz: 9000, q: 0.7, gainDb: -11 },
];

/**
 * Squared gain by the formulas of the Web Audio API (W3C, 1.13.5), numerators and denominators as they stand
 * there, evaluated through cosines alone: |c0 + c1 z + c2 z²|² on the unit circle is
 * c0² + c1² + c2² + 2 (c0 c1 + c1 c2) cos w + 2 c0 c2 cos 2w.
 */
function squaredGain(shape: BiquadShape, hz: number): number {
  const w0 = (2 * Math.PI * shape.frequencyHz) / RATE_HZ;
  const w = (2 * Math.PI * hz) / RATE_HZ;
  const alphaQ = 'q' in shape ? Math.sin(w0) / (2 * shape.q) : Number.NaN;
  const alphaQdB = 'qDb' in shape ? Math.sin(w0) / (2 * 10 ** (shape.qDb / 20)) : Number.NaN;
  const A = 'gainDb' in shape ? 10 ** (shape.gainDb / 40) : Number.NaN;
  const cos0 = Math.cos(w0);
  const table: Record<BiquadShape['type'], { b: number[]; a: number[] }> = {
    lowpass: { b: [(1 - cos0) / 2, 1 - cos0, (1 - cos0) / 2], a: [1 + alphaQdB, -2 * cos0, 1 - alphaQdB] },
    highpass: {
      b: [(1 + cos0) / 2, -(1 + cos0), (1 + cos0) / 2],
      a: [1 + alphaQdB, -2 * cos0, 1 - alphaQdB],
    },
    bandpass: { b: [alphaQ, 0, -alphaQ], a: [1 + alphaQ, -2 * cos0, 1 - alphaQ] },
    notch: { b: [1, -2 * cos0, 1], a: [1 + alphaQ, -2 * cos0, 1 - alphaQ] },
    peaking: {
      b: [1 + alphaQ * A, -2 * cos0, 1 - alphaQ * A],
      a: [1 + alphaQ / A, -2 * cos0, 1 - alphaQ / A],
    },
  };
  const onCircle = ([c0, c1, c2]: number[]) =>
    c0! ** 2 +
    c1! ** 2 +
    c2! ** 2 +
    2 * (c0! * c1! + c1! * c2!) * Math.cos(w) +
    2 * c0! * c2! * Math.cos(2 * w);
  const { b, a } = table[shape.type];
  return onCircle(b) / onCircle(a);
}

const noise = (seed: number, length: number) => {
  const random = seededRandom(seed);
  return Float32Array.from({ length }, () => 0.1 * random.normal());
};

describe('biquadOf', () => {
  test.each(SHAPES)('$type at $frequencyHz Hz responds as the W3C formulas say', (shape) => {
    const section = biquadOf(shape, RATE_HZ);
    for (const hz of [1, 37, 120, 199, 265, 320, 401, 999, 5000, 9000, 15_000, 21_000]) {
      const { gain } = responseOf([section], hz, RATE_HZ);
      const wanted = squaredGain(shape, hz);
      // Squares near a notch are differences of numbers near 1.
      expect(Math.abs(gain * gain - wanted)).toBeLessThan(1e-8 + 1e-6 * wanted);
    }
  });

  test('gains at the frequency itself: q in dB, 1, 0 and the gain in dB', () => {
    const gainDb = (shape: BiquadShape) =>
      20 * Math.log10(responseOf([biquadOf(shape, RATE_HZ)], shape.frequencyHz, RATE_HZ).gain);
    expect(gainDb({ type: 'lowpass', frequencyHz: 400, qDb: 4.5 })).toBeCloseTo(4.5, 9);
    expect(gainDb({ type: 'highpass', frequencyHz: 200, qDb: -3 })).toBeCloseTo(-3, 9);
    expect(gainDb({ type: 'bandpass', frequencyHz: 265, q: 3 })).toBeCloseTo(0, 9);
    expect(gainDb({ type: 'peaking', frequencyHz: 265, q: 3, gainDb: 6 })).toBeCloseTo(6, 9);
    expect(gainDb({ type: 'notch', frequencyHz: 1000, q: 3 })).toBeLessThan(-120);
  });

  test.each([0, -1, 22_050, Number.NaN])('refuses a filter at %d Hz', (frequencyHz) => {
    expect(() => biquadOf({ type: 'lowpass', frequencyHz, qDb: 0 }, RATE_HZ)).toThrow(RangeError);
  });

  test('refuses a q of zero', () => {
    expect(() => biquadOf({ type: 'notch', frequencyHz: 50, q: 0 }, RATE_HZ)).toThrow(/q 0, not above 0/);
  });
});

describe('biquadCascade', () => {
  test('its impulse response, transformed, is the closed form, phase and all', () => {
    const rateHz = 2000;
    const sections = bandShapes().map((shape) => biquadOf(shape, rateHz));
    const impulse = new Float32Array(4000);
    impulse[0] = 1;
    const answer = biquadCascade(sections).push(impulse);
    for (const hz of [50, 150, 200, 283, 400, 600, 900]) {
      let re = 0;
      let im = 0;
      answer.forEach((value, n) => {
        re += value * Math.cos((2 * Math.PI * hz * n) / rateHz);
        im -= value * Math.sin((2 * Math.PI * hz * n) / rateHz);
      });
      const { gain, phaseRad } = responseOf(sections, hz, rateHz);
      expect(re).toBeCloseTo(gain * Math.cos(phaseRad), 5);
      expect(im).toBeCloseTo(gain * Math.sin(phaseRad), 5);
    }
  });

  test('how the stream is cut changes nothing', () => {
    const samples = noise(31, 5000);
    const whole = bandFilter(8000).push(samples);
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 900 }), { maxLength: 20 }), (lengths) => {
        const filter = bandFilter(8000);
        const parts: number[] = [];
        let at = 0;
        for (const length of [...lengths, samples.length]) {
          parts.push(...filter.push(samples.subarray(at, at + length)));
          at = Math.min(samples.length, at + length);
        }
        parts.push(...filter.finish());
        expect(Float32Array.from(parts)).toEqual(whole);
      }),
      { numRuns: 25, seed: 1 },
    );
  });
});

describe('bandFilter', () => {
  test('is down by 3 dB at its edges, half a dB in the middle, 24 dB an octave outside', () => {
    const sections = bandShapes().map((shape) => biquadOf(shape, RATE_HZ));
    const gainDb = (hz: number) => 20 * Math.log10(responseOf(sections, hz, RATE_HZ).gain);
    // Butterworth: −10 log10(1 + (f/fc)^8) for each edge, frequencies warped by next to nothing at this rate.
    for (const hz of [100, 150, 200, 283, 330, 400, 800]) {
      const wanted = -10 * Math.log10(1 + (200 / hz) ** 8) - 10 * Math.log10(1 + (hz / 400) ** 8);
      expect(Math.abs(gainDb(hz) - wanted)).toBeLessThan(0.1);
    }
    expect(gainDb(200)).toBeCloseTo(-3.03, 1);
    expect(gainDb(100)).toBeLessThan(-24);
  });

  test('refuses a band that is empty or beyond half the rate', () => {
    expect(() => bandFilter(8000, { lowHz: 400, highHz: 400 })).toThrow(RangeError);
    expect(() => bandFilter(800, { lowHz: 200, highHz: 400 })).toThrow(RangeError);
  });
});

const { audio, reason } = await loadWebAudio();

describe.skipIf(audio === null)(`the same filters in the Web Audio API ${reason ?? ''}`.trim(), () => {
  const nodeOf = (context: OfflineAudioContext, shape: BiquadShape) => {
    const node = context.createBiquadFilter();
    node.type = shape.type;
    node.frequency.value = shape.frequencyHz;
    node.Q.value = 'qDb' in shape ? shape.qDb : shape.q;
    node.gain.value = 'gainDb' in shape ? shape.gainDb : 0;
    return node;
  };

  test.each(SHAPES)('getFrequencyResponse of $type at $frequencyHz Hz', (shape) => {
    const context = new audio!.OfflineAudioContext(1, 128, RATE_HZ);
    const hz = Float32Array.from([20, 80, 200, 265, 400, 1000, 8000]);
    const gains = new Float32Array(hz.length);
    const phases = new Float32Array(hz.length);
    nodeOf(context, shape).getFrequencyResponse(hz, gains, phases);
    hz.forEach((frequencyHz, k) => {
      const { gain, phaseRad } = responseOf([biquadOf(shape, RATE_HZ)], frequencyHz, RATE_HZ);
      expect(Math.abs(gains[k]! - gain)).toBeLessThan(1e-4 * (1 + gain));
      // Single-precision parameters: phases turn fast beside a narrow notch. Phases are equal modulo 2π.
      const apart = phases[k]! - phaseRad;
      expect(Math.abs(Math.atan2(Math.sin(apart), Math.cos(apart)))).toBeLessThan(0.01);
    });
  });

  test('noise through the band filter, rendered offline, comes out the same', async () => {
    const samples = noise(32, RATE_HZ);
    const context = new audio!.OfflineAudioContext(1, samples.length, RATE_HZ);
    const buffer = context.createBuffer(1, samples.length, RATE_HZ);
    buffer.copyToChannel(samples, 0);
    const source = context.createBufferSource();
    source.buffer = buffer;
    let last: AudioNode = source;
    for (const shape of bandShapes()) last = last.connect(nodeOf(context, shape));
    last.connect(context.destination);
    source.start();
    const rendered = (await context.startRendering()).getChannelData(0);
    const own = bandFilter(RATE_HZ).push(samples);
    let difference = 0;
    let power = 0;
    own.forEach((value, n) => {
      difference += (value - rendered[n]!) ** 2;
      power += value * value;
    });
    expect(power).toBeGreaterThan(0);
    // The API hands single-precision blocks from node to node: about 90 dB apart from double precision.
    expect(10 * Math.log10(difference / power)).toBeLessThan(-80);
  });
});
