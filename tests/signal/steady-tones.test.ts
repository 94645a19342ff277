import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { withoutSteadyTones } from '../../src/signal/steady-tones.ts';

const RATE_HZ = 2000;
const noise = (lengthS: number) => {
  const random = seededRandom(77);
  return Float32Array.from({ length: lengthS * RATE_HZ }, () => random.normal());
};
const tone = (hz: number, amplitude: number, length: number) =>
  Float32Array.from({ length }, (_, n) => amplitude * Math.sin((2 * Math.PI * hz * n) / RATE_HZ + 1));
const sum = (...all: readonly Float32Array[]) =>
  all[0]!.map((_, n) => all.reduce((total, one) => total + one[n]!, 0));
const power = (samples: Float32Array) => samples.reduce((total, x) => total + x * x, 0) / samples.length;

describe('withoutSteadyTones', () => {
  test('noise, and stretches too short to know, come back as they are', () => {
    const plain = noise(60);
    expect(withoutSteadyTones(plain, RATE_HZ)).toBe(plain);
    const short = tone(250, 1, 6000);
    expect(withoutSteadyTones(short, RATE_HZ)).toBe(short);
  });

  test.each([50, 50.11, 60])('mains at %d Hz with harmonics is gone, the noise is left', (mainsHz) => {
    const plain = noise(60);
    const hum = sum(...[1, 2, 3, 4, 5, 6, 7].map((k) => tone(k * mainsHz, 3, plain.length)));
    const cleaned = withoutSteadyTones(sum(plain, hum), RATE_HZ);
    const left = cleaned.map((x, n) => x - plain[n]!);
    // The first and last second are known from half as many windows.
    const inside = left.subarray(2 * RATE_HZ, left.length - 2 * RATE_HZ);
    expect(10 * Math.log10(power(inside) / power(hum))).toBeLessThan(-25);
  });

  test('a sound of a second stays, beside a tone that is taken out', () => {
    const plain = noise(60);
    const call = new Float32Array(plain.length);
    call.set(tone(320, 2, RATE_HZ), 30 * RATE_HZ);
    const hum = tone(300, 3, plain.length);
    const cleaned = withoutSteadyTones(sum(plain, call, hum), RATE_HZ);
    const left = cleaned.map((x, n) => x - plain[n]! - call[n]!).subarray(30 * RATE_HZ, 31 * RATE_HZ);
    expect(power(left) / power(call.subarray(30 * RATE_HZ, 31 * RATE_HZ))).toBeLessThan(0.05);
  });

  test.each([
    [1, 1.2],
    [2.5, 1],
    [1, 0.45],
  ])(
    'a carrier that sounds for %d s and is silent for %d s, over and over in one phase, stays',
    (onS, offS) => {
      const carrier = tone(260, 1, 90 * RATE_HZ).map((x, n) => ((n / RATE_HZ) % (onS + offS) < onS ? x : 0));
      const dancer = sum(noise(90), carrier);
      // Compared as one value: to show how two long recordings differ takes minutes.
      expect(withoutSteadyTones(dancer, RATE_HZ) === dancer).toBe(true);
      expect(withoutSteadyTones(dancer, RATE_HZ, [300, 400]) === dancer).toBe(true);
    },
  );

  test.each([0.5, 0.9])(
    'pulses of %f in one phase for 5 s, over and over, stay: whole blocks are full of them',
    (amplitude) => {
      const isOn = (n: number) => (n / RATE_HZ) % 6.6 < 5 && ((n / RATE_HZ) % 6.6) % 0.066 < 0.03;
      const carrier = tone(250, amplitude, 90 * RATE_HZ).map((x, n) => (isOn(n) ? x : 0));
      const dancer = sum(noise(90), carrier);
      expect(withoutSteadyTones(dancer, RATE_HZ) === dancer).toBe(true);
      expect(withoutSteadyTones(dancer, RATE_HZ, [200, 400]) === dancer).toBe(true);
      // Elsewhere a line in the loud blocks is one, wherever it stops.
      expect(withoutSteadyTones(dancer, RATE_HZ, [300, 400]) === dancer).toBe(false);
      // A steady tone as faint as theirs has no silences.
      const hum = sum(noise(90), tone(250, 0.45 * amplitude, 90 * RATE_HZ));
      expect(withoutSteadyTones(hum, RATE_HZ) === hum).toBe(false);
    },
  );

  test.each([0.3, 1])(
    'a steady tone of %f goes from under a dancer who sings at its frequency',
    (amplitude) => {
      const hum = tone(260, amplitude, 90 * RATE_HZ);
      const carrier = tone(260, 1, hum.length).map((x, n) => ((n / RATE_HZ) % 2.2 < 1 ? x : 0));
      const plain = noise(90);
      const cleaned = withoutSteadyTones(sum(plain, carrier, hum), RATE_HZ);
      // Over whole circuits, without the noise, the two together have this amplitude at 260 Hz.
      const amplitudeOf = (samples: Float32Array) => {
        const inside = samples.subarray(22 * RATE_HZ, 66 * RATE_HZ);
        const [re, im] = [Math.cos, Math.sin].map((wave) =>
          inside.reduce((total, x, n) => total + x * wave((2 * Math.PI * 260 * n) / RATE_HZ), 0),
        );
        return (2 * Math.hypot(re!, im!)) / inside.length;
      };
      expect(amplitudeOf(sum(carrier, hum))).toBeCloseTo(amplitude + 1 / 2.2, 1);
      expect(amplitudeOf(cleaned.map((x, n) => x - plain[n]!))).toBeLessThan(0.05);
    },
  );

  test('a tone that is there for most of a stretch is taken out where it is', () => {
    const plain = noise(60);
    const hum = tone(300, 3, plain.length).fill(0, 40 * RATE_HZ);
    const cleaned = withoutSteadyTones(sum(plain, hum), RATE_HZ);
    const left = cleaned.map((x, n) => x - plain[n]!).subarray(8 * RATE_HZ, 32 * RATE_HZ);
    expect(10 * Math.log10(power(left) / 4.5)).toBeLessThan(-20);
  });

  test('two tones six bins apart are both gone: neither hides the other', () => {
    const binHz = RATE_HZ / 8192;
    const plain = noise(60);
    const hum = sum(tone(900 * binHz, 1, plain.length), tone(906 * binHz, 1, plain.length));
    const cleaned = withoutSteadyTones(sum(plain, hum), RATE_HZ);
    const left = cleaned.map((x, n) => x - plain[n]!);
    const inside = left.subarray(2 * RATE_HZ, left.length - 2 * RATE_HZ);
    expect(10 * Math.log10(power(inside) / power(hum))).toBeLessThan(-15);
  });

  test('as much is left of a tone a little above the middle of a bin as of one below', () => {
    const binHz = RATE_HZ / 8192;
    const faint = noise(60).map((x) => 1e-4 * x);
    const leftOf = (bin: number) => {
      const hum = tone(bin * binHz, 1, faint.length);
      const cleaned = withoutSteadyTones(sum(faint, hum), RATE_HZ);
      return 10 * Math.log10(power(cleaned.subarray(2 * RATE_HZ, -2 * RATE_HZ)) / power(hum));
    };
    const above = leftOf(1000.4);
    expect(above).toBeLessThan(-25);
    expect(Math.abs(above - leftOf(999.6))).toBeLessThan(1);
  });
});
