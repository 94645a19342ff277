import { describe, expect, test } from 'vitest';
import { carrierSound, powerInWindow, windowOf } from '../../src/dance/carrier-envelope.ts';
import { detectInSegment } from '../../src/dance/detect-segment.ts';
import { hiddenBy } from '../../src/dance/hidden.ts';
import { viewSegment } from '../../src/dance/segment-view.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { splitByCarrier } from '../../src/dance/split-by-carrier.ts';
import { refineTrain } from '../../src/dance/train-refinement.ts';
import { viewWithout } from '../../src/dance/without-trains.ts';
import { seededRandom } from '../../src/random.ts';
import { addTone, addTrain, RATE_HZ, whiteNoise } from './made-sound.ts';

/** Mean power in the matched window at some times and one carrier. */
function powerAt(samples: Float32Array, timesS: readonly number[], carrierHz: number): number {
  const window = windowOf(49);
  const sound = carrierSound(samples, RATE_HZ, carrierHz, 0, samples.length, 49);
  const powers = timesS.map((timeS) => powerInWindow(sound, Math.round(timeS * RATE_HZ), window));
  return powers.reduce((sum, power) => sum + power, 0) / powers.length;
}

describe('viewWithout', () => {
  const noise = whiteNoise(91, 20);
  const random = seededRandom(92);
  // What would be heard without the loud train, and all that is.
  const quiet = Float32Array.from(noise);
  const under = addTrain(quiet, { startS: 8.1, pulseCount: 14, carrierHz: 285, beatS: 0.06 }, random);
  const samples = Float32Array.from(quiet);
  const louder = { startS: 8, pulseCount: 30, carrierHz: 250, snrDb: 14, beatS: 0.034 };
  const loud = addTrain(samples, louder, random);
  const view = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
  const taken = refineTrain(view, { pulseTimesS: loud, carrierHz: 250, settled: true })!;
  const rest = viewWithout(view, [taken]);

  test('takes out a train to near the noise and leaves the one under it', () => {
    expect(powerAt(rest.samples, loud, 250)).toBeLessThan(0.1 * powerAt(view.samples, loud, 250));
    expect(powerAt(rest.samples, loud.slice(-3), 250)).toBeLessThan(4 * powerAt(noise, loud.slice(-3), 250));
    const clear = under.filter((timeS) => rest.hiddenAt!(timeS, 285) < 0.2);
    expect(clear.length).toBeGreaterThan(2);
    const share = powerAt(rest.samples, clear, 285) / powerAt(quiet, clear, 285);
    expect(share).toBeGreaterThan(0.6);
    expect(share).toBeLessThan(1.2);
  });

  test('the sound handed in stays as it was', () => {
    expect(viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS).samples).toEqual(view.samples);
  });

  test('what is elsewhere is not touched', () => {
    expect(rest.samples.subarray(0, 7 * RATE_HZ)).toEqual(view.samples.subarray(0, 7 * RATE_HZ));
  });
});

describe('hiddenBy', () => {
  test('is the squared correlation of two pulses, here worked out numerically', () => {
    const spreadS = 0.005;
    const pulse = (middleS: number, hz: number) => (timeS: number) => {
      const size = Math.exp(-0.5 * ((timeS - middleS) / spreadS) ** 2);
      return [size * Math.cos(2 * Math.PI * hz * timeS), size * Math.sin(2 * Math.PI * hz * timeS)] as const;
    };
    for (const [apartS, apartHz] of [
      [0, 0],
      [0, 25],
      [0.004, 15],
      [0.009, 40],
      [0.012, 0],
    ] as const) {
      const [a, b] = [pulse(0, 250), pulse(apartS, 250 + apartHz)];
      let [re, im, energy] = [0, 0, 0];
      for (let timeS = -0.06; timeS < 0.06; timeS += 0.0001) {
        const [[aRe, aIm], [bRe, bIm]] = [a(timeS), b(timeS)];
        re += aRe * bRe + aIm * bIm;
        im += aIm * bRe - aRe * bIm;
        energy += aRe * aRe + aIm * aIm;
      }
      const hidden = hiddenBy([{ pulseTimesS: [0], carrierHz: 250 }]);
      expect(hidden(apartS, 250 + apartHz)).toBeCloseTo((re * re + im * im) / energy ** 2, 3);
    }
  });

  test('far from any pulse nothing is hidden, and nothing by none', () => {
    expect(hiddenBy([{ pulseTimesS: [1, 2], carrierHz: 250 }])(1.5, 250)).toBe(0);
    expect(hiddenBy([])(1, 250)).toBe(0);
  });
});

describe('splitByCarrier', () => {
  const strung = (firstHz: number, secondHz: number, pulseCount = 10) => {
    const samples = whiteNoise(93, 20);
    const random = seededRandom(94);
    const first = addTrain(samples, { startS: 8, pulseCount, carrierHz: firstHz, snrDb: 12 }, random);
    const startS = first.at(-1)! + 0.05 - 0.0125;
    const second = addTrain(samples, { startS, pulseCount, carrierHz: secondHz, snrDb: 12 }, random);
    const view = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
    const carrierHz = (firstHz + secondHz) / 2;
    const rough = { pulseTimesS: [...first, ...second], carrierHz, settled: true };
    const whole = { ...refineTrain(view, rough)!, chainScore: 20, guided: false };
    return { parts: splitByCarrier(view, whole), borderS: (first.at(-1)! + second[0]!) / 2 };
  };

  test('two runs that follow each other at once, alike but in carrier, are parted', () => {
    const { parts, borderS } = strung(240, 265);
    expect(parts).toHaveLength(2);
    expect(Math.abs(parts[0]!.carrierHz - 240)).toBeLessThan(6);
    expect(Math.abs(parts[1]!.carrierHz - 265)).toBeLessThan(6);
    expect(Math.abs(parts[0]!.endS - borderS)).toBeLessThan(0.11);
    expect(Math.abs(parts[1]!.startS - borderS)).toBeLessThan(0.11);
    // What the whole chain scored is shared out by pulses, ten and ten or nearly so.
    expect(parts[0]!.chainScore + parts[1]!.chainScore).toBeCloseTo(20, 9);
    for (const { chainScore } of parts) expect(Math.abs(chainScore - 10)).toBeLessThan(2);
  });

  test('ten and ten pulses at 12 dB are parted where they are 11 Hz apart, not where they are 5 Hz', () => {
    expect(strung(250, 261).parts).toHaveLength(2);
    expect(strung(250, 255).parts).toHaveLength(1);
  });

  test('one run stays whole, and a long one whose carrier wanders by less than two dancers are apart', () => {
    expect(strung(250, 250).parts).toHaveLength(1);
    expect(strung(250, 257, 60).parts).toHaveLength(1);
    expect(strung(250, 261, 60).parts).toHaveLength(2);
  });

  test('one whose carrier drifts by 24 Hz stays whole, as it does not step', () => {
    const samples = whiteNoise(97, 20);
    const middles = Array.from({ length: 30 }, (_, k) => 8 + 0.05 * k);
    middles.forEach((middleS, k) => {
      addTone(samples, middleS - 0.0125, 0.025, 250 + (24 * k) / 29, 12, k);
    });
    const view = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
    const whole = refineTrain(view, { pulseTimesS: middles, carrierHz: 262, settled: true })!;
    expect(splitByCarrier(view, { ...whole, chainScore: 20, guided: false })).toHaveLength(1);
  });

  test('pulses that scatter less than their power tells are parted 15 Hz apart: a lifted floor hides how sure they are', () => {
    const samples = whiteNoise(98, 20);
    const random = seededRandom(99);
    const first = addTrain(samples, { startS: 8, pulseCount: 20, carrierHz: 250, snrDb: 12 }, random);
    const startS = first.at(-1)! + 0.05 - 0.0125;
    const second = addTrain(samples, { startS, pulseCount: 20, carrierHz: 265, snrDb: 12 }, random);
    const view = viewSegment(samples, RATE_HZ, DEFAULT_SETTINGS);
    const rough = { pulseTimesS: [...first, ...second], carrierHz: 257, settled: true };
    const whole = { ...refineTrain(view, rough)!, chainScore: 20, guided: false };
    const lifted = { ...whole, pulseRatios: whole.pulseRatios.map((ratio) => ratio / 8) };
    const parts = splitByCarrier(view, lifted);
    expect(parts).toHaveLength(2);
    expect(Math.abs(parts[0]!.endS - (first.at(-1)! + 0.0125))).toBeLessThan(0.21);
  });
});

test('a run wholly under another dancer’s is found, 35 Hz away, each timed as its own', () => {
  const samples = whiteNoise(95, 60);
  const random = seededRandom(96);
  const made = { a: { carrierHz: 250, beatS: 0.034 }, b: { carrierHz: 285, beatS: 0.062 } };
  const truth: [number, number][] = [];
  const add = (bee: 'a' | 'b', startS: number, pulseCount: number) => {
    const middles = addTrain(samples, { ...made[bee], startS, pulseCount, snrDb: 12 }, random);
    truth.push([startS, middles.at(-1)! + 0.0125]);
  };
  for (let run = 0; run < 6; run++) {
    const startS = 20 + 3.2 * run;
    add('a', startS, 36);
    // Every second one lies under a run of the other, but not the first: a dance shows itself first.
    add('b', run % 2 === 0 && run > 0 ? startS + 0.3 : startS + 1.7, 11);
  }
  const { trains } = detectInSegment(
    { samples, sampleRateHz: RATE_HZ, startS: 0, coreStartS: 0, coreEndS: 60 },
    DEFAULT_SETTINGS,
  );
  const found = truth.filter(([startS, endS]) =>
    trains.some((train) => Math.abs(train.startS - startS) < 0.06 && Math.abs(train.endS - endS) < 0.06),
  );
  expect(found).toHaveLength(truth.length);
  expect(trains).toHaveLength(truth.length);
});
