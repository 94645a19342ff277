import { describe, expect, it, vi } from 'vitest';
import { disturbanceNamed, disturbanceNames } from '../../src/simulate/disturbance-names.ts';
import type { PartialSimulationOptions } from '../../src/simulate/options.ts';
import { simulateSound } from '../../src/simulate/simulate-hive.ts';

// Long recordings on a machine that may be busy.
vi.setConfig({ testTimeout: 60_000 });

const base = { seed: 31, lengthS: 20, dancesPerHour: 400 } as const;
type Wanted = NonNullable<PartialSimulationOptions['disturbances']>;

const sound = async (disturbances: Wanted = []) =>
  (await simulateSound({ ...base, disturbances })).channels[0]!;

const largestGap = (a: Float32Array, b: Float32Array) =>
  a.reduce((largest, sample, index) => Math.max(largest, Math.abs(sample - b[index]!)), 0);

const power = (samples: Float32Array) =>
  samples.reduce((sum, sample) => sum + sample ** 2, 0) / samples.length;

describe('disturbances', () => {
  it('scales, shifts and inverts the mixture', async () => {
    const clean = await sound();
    const changed = await sound([
      { kind: 'dc-offset', offset: 0.1 },
      { kind: 'gain', factor: 0.5 },
      { kind: 'inverted' },
    ]);
    expect(
      largestGap(
        changed,
        clean.map((sample) => -0.5 * sample + 0.1),
      ),
    ).toBeLessThan(1e-6);
    const stepped = await sound([{ kind: 'gain-step', factor: 0.25 }]);
    const half = clean.length / 2;
    expect(largestGap(stepped.slice(0, half), clean.slice(0, half))).toBe(0);
    expect(
      largestGap(
        stepped.slice(half),
        clean.slice(half).map((sample) => 0.25 * sample),
      ),
    ).toBeLessThan(1e-7);
  });

  it('clips the share of samples asked for', async () => {
    const clipped = await sound([{ kind: 'clipping', share: 0.02 }]);
    const atLimit = clipped.filter((sample) => sample >= 0.9999 || sample <= -0.9999).length;
    expect(Math.abs(atLimit / clipped.length - 0.02)).toBeLessThan(0.001);
    expect(clipped.every((sample) => Math.abs(sample) <= 1)).toBe(true);
  });

  it('drops samples to zero only where planned', async () => {
    const { channels, plan } = await simulateSound({
      ...base,
      disturbances: [{ kind: 'dropouts', perMinute: 30 }],
    });
    const clean = await sound();
    expect(plan.dropouts.length).toBeGreaterThan(3);
    const expected = clean.slice();
    for (const [fromS, toS] of plan.dropouts)
      expected.fill(0, Math.round(8000 * fromS), Math.round(8000 * toS));
    expect(largestGap(channels[0]!, expected)).toBe(0);
  });

  it('adds mains hum at the level asked for and at its frequency', async () => {
    const clean = await simulateSound(base);
    for (const frequencyHz of [50, 60] as const) {
      const hum = (await sound([{ kind: 'mains', frequencyHz, levelDb: 10 }])).map(
        (sample, index) => sample - clean.channels[0]![index]!,
      );
      let [real, imaginary] = [0, 0];
      // Within one second the drift of the mains turns the phase but little.
      for (let index = 0; index < 8000; index++) {
        real += hum[index]! * Math.cos((2 * Math.PI * frequencyHz * index) / 8000);
        imaginary += hum[index]! * Math.sin((2 * Math.PI * frequencyHz * index) / 8000);
      }
      const fundamental = (2 * (real ** 2 + imaginary ** 2)) / 8000 ** 2;
      const levelDb = 10 * Math.log10(fundamental / clean.rendering.bandPower.median);
      expect(Math.abs(levelDb - 10)).toBeLessThan(0.3);
    }
  });

  it('adds speech, wind and fan where wanted, wind below 100 Hz', async () => {
    const clean = await sound();
    for (const kind of ['speech', 'wind', 'fan'] as const) {
      const added = (await sound([{ kind }])).map((sample, index) => sample - clean[index]!);
      expect(power(added)).toBeGreaterThan(0);
      if (kind !== 'wind') continue;
      // The mean squared step of a band below 100 Hz is at most (2 pi 100 / rate)² of its power.
      const steps = added.slice(1).map((sample, index) => sample - added[index]!);
      expect(power(steps) / power(added)).toBeLessThan(((2 * Math.PI * 100) / 8000) ** 2);
    }
  });

  it('leaves the truth as it is, whatever disturbs the recording', async () => {
    const { truth } = await simulateSound(base);
    const disturbed = await simulateSound({
      ...base,
      lengthS: 20,
      disturbances: disturbanceNames.map(disturbanceNamed),
    });
    expect(disturbed.truth).toEqual(truth);
    expect(disturbed.channels[0]!.every(Number.isFinite)).toBe(true);
  });
});
