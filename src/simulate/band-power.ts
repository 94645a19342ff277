import { setImmediate } from 'node:timers/promises';
import FFT from 'fft.js';
import { kaiser, sinc } from './resample.ts';
import type { SampleSource } from './sample-source.ts';

/** The band in which dance sound is set against its background. */
export const BAND_HZ = [200, 400] as const;
/** The background's power is taken within this of a sound's middle, s. */
export const NEAR_S = 2;
/** Powers are kept for steps of this length, s. */
const STEP_S = 0.05;
/** Half the length of the band filter, s; with a Kaiser window of beta 6 it is down by 60 dB within 20 Hz. */
const FILTER_REACH_S = 0.1;
/** Silence counts as this power (−140 dB of full scale), so that sounds laid on it keep a level. */
const LEAST_POWER = 1e-14;

/** Power of a background in 200 to 400 Hz. */
export interface BandPower {
  /** Mean within 2 s of a time, as far as the recording reaches. */
  readonly near: (timeS: number) => number;
  /** Median over the recording of what `near` gives. */
  readonly median: number;
}

/**
 * Measures a background's power in 200 to 400 Hz by a windowed-sinc filter of zero phase (overlap-save, two blocks
 * to a transform).
 *
 * @param onBlock told how many samples have been measured; others have their turn before it
 * @throws whatever `onBlock` does
 */
export async function measureBandPower(
  source: SampleSource,
  sampleCount: number,
  onBlock: (measured: number) => void = () => {},
): Promise<BandPower> {
  const { sampleRateHz } = source;
  const steps = await stepPowers(source, sampleCount, onBlock);
  const sums = new Float64Array(steps.length + 1);
  for (let index = 0; index < steps.length; index++) sums[index + 1] = sums[index]! + steps[index]!;
  const stepS = sampleCount / sampleRateHz / steps.length;
  const near = (timeS: number): number => {
    const from = Math.min(steps.length - 1, Math.max(0, Math.round((timeS - NEAR_S) / stepS)));
    const to = Math.max(from + 1, Math.min(steps.length, Math.round((timeS + NEAR_S) / stepS)));
    return Math.max(LEAST_POWER, (sums[to]! - sums[from]!) / (to - from));
  };
  const sorted = Float64Array.from(steps, (_, index) => near((index + 0.5) * stepS)).sort();
  return { near, median: sorted[sorted.length >> 1]! };
}

/** Mean power of each of equal steps of about STEP_S. */
async function stepPowers(
  source: SampleSource,
  sampleCount: number,
  onBlock: (measured: number) => void,
): Promise<Float64Array> {
  const { sampleRateHz } = source;
  const stepCount = Math.max(1, Math.round(sampleCount / sampleRateHz / STEP_S));
  const powers = new Float64Array(stepCount);
  const counts = new Float64Array(stepCount);
  const filter = bandFilter(sampleRateHz);
  const { size, reach, valid } = filter;
  const blocks = [new Float32Array(size), new Float32Array(size)] as const;
  for (let first = 0; first < sampleCount; first += 2 * valid) {
    await source.read(first - reach, blocks[0]);
    await source.read(first + valid - reach, blocks[1]);
    const filtered = filter.apply(blocks[0], blocks[1]);
    for (let half = 0; half < 2; half++) {
      const start = first + half * valid;
      const count = Math.min(valid, sampleCount - start);
      for (let index = 0; index < count; index++) {
        const step = Math.floor(((start + index) * stepCount) / sampleCount);
        powers[step]! += filtered[2 * (index + reach) + half]! ** 2;
        counts[step]! += 1;
      }
    }
    await setImmediate();
    onBlock(Math.min(sampleCount, first + 2 * valid));
  }
  return powers.map((power, index) => power / Math.max(1, counts[index]!));
}

function bandFilter(sampleRateHz: number) {
  const reach = Math.ceil(FILTER_REACH_S * sampleRateHz);
  const size = 2 ** Math.ceil(Math.log2(8 * reach));
  const transform = new FFT(size);
  const numbers = () => new Float64Array(2 * size) as unknown as number[];
  const kernel = numbers();
  const [low, high] = [BAND_HZ[0] / sampleRateHz, BAND_HZ[1] / sampleRateHz];
  for (let tap = -reach; tap <= reach; tap++) {
    const ideal = 2 * high * sinc(2 * high * tap) - 2 * low * sinc(2 * low * tap);
    // Around 0, so that the filter shifts nothing in time and its spectrum is real.
    kernel[2 * ((tap + size) % size)] = ideal * kaiser(tap / (reach + 1), 6);
  }
  const response = numbers();
  transform.transform(response, kernel);
  const [input, spectrum, output] = [numbers(), numbers(), numbers()];
  const apply = (first: Float32Array, second: Float32Array): number[] => {
    for (let index = 0; index < size; index++) {
      input[2 * index] = first[index]!;
      input[2 * index + 1] = second[index]!;
    }
    transform.transform(spectrum, input);
    for (let bin = 0; bin < size; bin++) {
      spectrum[2 * bin]! *= response[2 * bin]!;
      spectrum[2 * bin + 1]! *= response[2 * bin]!;
    }
    transform.inverseTransform(output, spectrum);
    return output;
  };
  return { size, reach, valid: size - 2 * reach, apply };
}
