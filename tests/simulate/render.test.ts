import { beforeAll, describe, expect, it, vi } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { completeOptions, type PartialSimulationOptions } from '../../src/simulate/options.ts';
import { planHive } from '../../src/simulate/plan.ts';
import {
  prepareRendering,
  type Rendering,
  renderBackground,
  renderBlock,
  renderSounds,
} from '../../src/simulate/render.ts';
import { simulateSound } from '../../src/simulate/simulate-hive.ts';

// Long recordings on a machine that may be busy.
vi.setConfig({ testTimeout: 60_000 });

const prepare = (given: PartialSimulationOptions) => {
  const options = completeOptions(given);
  return prepareRendering(planHive(options, seededRandom(options.seed)));
};

const power = (samples: Float32Array) => {
  let sum = 0;
  for (const sample of samples) sum += sample * sample;
  return sum / samples.length;
};

/** 200 to 400 Hz by plain convolution with a Blackman-windowed sinc: another way than the simulator's own. */
function bandPowerByConvolution(samples: Float32Array, sampleRateHz: number): number {
  const reach = Math.round(0.12 * sampleRateHz);
  const kernel = Array.from({ length: 2 * reach + 1 }, (_, index) => {
    const lag = index - reach;
    const window =
      0.42 + 0.5 * Math.cos((Math.PI * lag) / reach) + 0.08 * Math.cos((2 * Math.PI * lag) / reach);
    const part = (edgeHz: number) =>
      lag === 0
        ? (2 * edgeHz) / sampleRateHz
        : Math.sin((2 * Math.PI * edgeHz * lag) / sampleRateHz) / (Math.PI * lag);
    return window * (part(400) - part(200));
  });
  let sum = 0;
  let count = 0;
  for (let centre = reach; centre < samples.length - reach; centre++) {
    let value = 0;
    for (let index = 0; index < kernel.length; index++)
      value += kernel[index]! * samples[centre + index - reach]!;
    sum += value * value;
    count++;
  }
  return sum / count;
}

describe('the sound of a simulated hive', () => {
  const sampleRateHz = 8000;
  let rendering: Rendering;
  beforeAll(async () => {
    rendering = await prepare({ seed: 21, lengthS: 90, dancesPerHour: 200, snrDb: 6 });
  });

  it('is the same whatever the blocks it is rendered in', async () => {
    const [whole] = await renderBlock(rendering, 0, rendering.sampleCount);
    for (const blockLength of [1, 777, 65_536]) {
      const from = 20 * sampleRateHz;
      const to = blockLength === 1 ? from + 50 : rendering.sampleCount;
      for (let first = from; first < to; first += blockLength) {
        const count = Math.min(blockLength, to - first);
        const [block] = await renderBlock(rendering, first, count);
        expect(
          Buffer.from(block!.buffer).equals(Buffer.from(whole!.slice(first, first + count).buffer)),
        ).toBe(true);
      }
    }
  });

  it('has trains at the SNR the truth gives: mean power of pulses over the background within 2 s', async () => {
    const { plan } = rendering;
    const trains = plan.dances
      .flatMap((dance) => dance.trains)
      .filter(({ startS, endS }) => startS > 3 && endS < 87);
    expect(trains.length).toBeGreaterThan(10);
    const groups = new Map(plan.groups.map((group, index) => [group.middleS, index]));
    for (const train of trains.slice(0, 12)) {
      const middleS = (train.startS + train.endS) / 2;
      const group = groups.get(middleS)!;
      const powers = train.pulses.map(({ onsetS, offsetS }) => {
        const first = Math.ceil(onsetS * sampleRateHz);
        const count = Math.floor(offsetS * sampleRateHz) - first;
        return power(renderSounds(rendering, first, count, (sound) => sound.group === group));
      });
      const pulsePower = powers.reduce((sum, value) => sum + value, 0) / powers.length;
      const reach = Math.round(0.12 * sampleRateHz);
      const first = Math.round((middleS - 2) * sampleRateHz) - reach;
      const near = await renderBackground(rendering, first, 4 * sampleRateHz + 2 * reach);
      const snrDb = 10 * Math.log10(pulsePower / bandPowerByConvolution(near, sampleRateHz));
      expect(Math.abs(snrDb - train.snrDb)).toBeLessThan(0.3);
    }
  }, 60_000);

  it('keeps every dance at the nominal SNR though runs differ, also one cut short by the end', () => {
    for (const dance of rendering.plan.dances) {
      const levels = dance.trains.map((train) => train.snrDb);
      expect(levels.reduce((sum, value) => sum + value, 0) / levels.length).toBeCloseTo(6, 6);
    }
  });

  it('is nearly the same sound at another sample rate', async () => {
    const options = { seed: 22, lengthS: 12, dancesPerHour: 600, background: { kind: 'synthetic' } } as const;
    const low = await simulateSound({ ...options, sampleRateHz: 8000 });
    const high = await simulateSound({ ...options, sampleRateHz: 48_000 });
    expect(high.truth).toEqual(low.truth);
    const every = Float32Array.from(low.channels[0]!, (_, index) => high.channels[0]![6 * index]!);
    const difference = every.map((sample, index) => sample - low.channels[0]![index]!);
    // Only hisses reach above what 8000 Hz can hold.
    expect(power(difference) / power(low.channels[0]!)).toBeLessThan(1e-4);
  });

  it('is silent of dance sound when there are no dances', async () => {
    const bare = await prepare({ seed: 23, lengthS: 30, dancesPerHour: 0, calls: { scale: 0 } });
    expect(power(renderSounds(bare, 0, bare.sampleCount))).toBe(0);
    expect(power((await renderBlock(bare, 0, bare.sampleCount))[0]!)).toBeGreaterThan(1e-6);
  });
});
