import FFT from 'fft.js';
import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { noiseFloor, overFloor } from '../../src/signal/noise-floor.ts';
import { hannWindow, spectralFrames } from '../../src/signal/spectral-frames.ts';

const RATE_HZ = 2000;
const SHAPE = { windowLength: 49, transformLength: 64, hopLength: 8 };

const noise = (seed: number, length: number, sd = 1) => {
  const random = seededRandom(seed);
  return Float32Array.from({ length }, () => sd * random.normal());
};

describe('fft.js', () => {
  test('keeps the energy: Σ|x|² = Σ|X|² / N (Parseval)', () => {
    for (const size of [64, 256, 2048]) {
      const transform = new FFT(size);
      const samples = noise(36, size);
      const output = transform.createComplexArray();
      transform.realTransform(output, Array.from(samples));
      transform.completeSpectrum(output);
      const energy = samples.reduce((sum, x) => sum + x * x, 0);
      const spectral = output.reduce((sum, x) => sum + x * x, 0) / size;
      expect(spectral / energy).toBeCloseTo(1, 12);
    }
  });
});

describe('spectralFrames', () => {
  test('every frame holds the energy of its windowed samples (Parseval)', () => {
    const samples = noise(37, 4001);
    const { power, frameCount, binCount } = spectralFrames(samples, RATE_HZ, SHAPE);
    const window = hannWindow(SHAPE.windowLength);
    const windowEnergy = window.reduce((sum, w) => sum + w * w, 0);
    for (let frame = 0; frame < frameCount; frame++) {
      let energy = 0;
      window.forEach((w, n) => {
        energy += (w * (samples[frame * SHAPE.hopLength - 24 + n] ?? 0)) ** 2;
      });
      // Inner bins stand for themselves and their mirror images.
      let sum = 0;
      for (let bin = 0; bin < binCount; bin++) {
        sum += power[frame * binCount + bin]! * (bin === 0 || bin === binCount - 1 ? 1 : 2);
      }
      expect((sum * windowEnergy) / SHAPE.transformLength / energy).toBeCloseTo(1, 4);
    }
  });

  test('agrees with the plain sum, in odd and even frames', () => {
    const samples = noise(38, 200);
    const { power, binCount, frameCount, hopS, binWidthHz } = spectralFrames(samples, RATE_HZ, SHAPE);
    expect([hopS, binWidthHz, binCount, frameCount]).toEqual([0.004, 31.25, 33, 25]);
    const window = hannWindow(49);
    const windowEnergy = window.reduce((sum, w) => sum + w * w, 0);
    for (const frame of [0, 1, 7, 12, 23, 24]) {
      for (const bin of [0, 1, 8, 31, 32]) {
        let re = 0;
        let im = 0;
        window.forEach((w, n) => {
          const x = w * (samples[frame * 8 - 24 + n] ?? 0);
          re += x * Math.cos((2 * Math.PI * bin * n) / 64);
          im -= x * Math.sin((2 * Math.PI * bin * n) / 64);
        });
        expect(power[frame * binCount + bin]).toBeCloseTo((re * re + im * im) / windowEnergy, 5);
      }
    }
  });

  test('white noise of variance v has a mean of v in every bin', () => {
    const { power, binCount, frameCount } = spectralFrames(noise(39, 200_000, 0.3), RATE_HZ, SHAPE);
    for (let bin = 0; bin < binCount; bin++) {
      let sum = 0;
      for (let frame = 10; frame < frameCount - 10; frame++) sum += power[frame * binCount + bin]!;
      expect(sum / (frameCount - 20) / 0.09).toBeCloseTo(1, 0.9);
    }
  });
});

describe('noiseFloor', () => {
  const meanFloor = (samples: Float32Array) => {
    const frames = spectralFrames(samples, RATE_HZ, SHAPE);
    const floor = noiseFloor(frames, 3, 29);
    let sum = 0;
    for (let anchor = 0; anchor < floor.anchorCount; anchor++) {
      for (let bin = 3; bin <= 29; bin++) sum += floor.level[anchor * floor.binCount + bin]!;
    }
    return { mean: sum / floor.anchorCount / 27, frames, floor };
  };

  test.each([1, 1e-4])('on white noise of variance %d is that variance within 3 %', (variance) => {
    const { mean } = meanFloor(noise(40, 120 * RATE_HZ, Math.sqrt(variance)));
    expect(Math.abs(mean / variance - 1)).toBeLessThan(0.03);
  });

  test('a tone in a third of the time, 20 dB above the noise, lifts it by less than 3 dB in its bins', () => {
    const samples = noise(41, 60 * RATE_HZ);
    for (let n = 0; n < samples.length; n++) {
      if (n % RATE_HZ < RATE_HZ / 3) samples[n]! += 2 * Math.sin((2 * Math.PI * 281.25 * n) / RATE_HZ);
    }
    const { floor } = meanFloor(samples);
    let sum = 0;
    for (let anchor = 0; anchor < floor.anchorCount; anchor++)
      sum += floor.level[anchor * floor.binCount + 9]!;
    expect(10 * Math.log10(sum / floor.anchorCount)).toBeLessThan(3);
  });

  test('power over the floor of noise alone is exponential with mean 1', () => {
    const { frames, floor } = meanFloor(noise(42, 120 * RATE_HZ, 0.02));
    const ratio = overFloor(frames, floor, 3, 29);
    const mean = ratio.reduce((sum, r) => sum + r, 0) / ratio.length;
    expect(Math.abs(mean - 1)).toBeLessThan(0.04);
    for (const level of [1, 2, 4]) {
      const above = ratio.reduce((count, r) => count + (r > level ? 1 : 0), 0) / ratio.length;
      expect(Math.abs(above / Math.exp(-level) - 1)).toBeLessThan(0.12);
    }
  });

  test('digital silence neither counts nor divides', () => {
    const samples = noise(43, 20 * RATE_HZ);
    samples.fill(0, 8 * RATE_HZ, 12 * RATE_HZ);
    const { frames, floor } = meanFloor(samples);
    const ratio = overFloor(frames, floor, 3, 29);
    expect(ratio.every(Number.isFinite)).toBe(true);
    expect(Math.max(...overFloor(...silent()))).toBe(0);
  });

  function silent() {
    const frames = spectralFrames(new Float32Array(5 * RATE_HZ), RATE_HZ, SHAPE);
    return [frames, noiseFloor(frames, 3, 29), 3, 29] as const;
  }
});
