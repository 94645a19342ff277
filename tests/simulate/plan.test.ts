import { describe, expect, it, vi } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { curveDurationS, durationSdS, meanReturnS } from '../../src/simulate/curve.ts';
import { completeOptions, type PartialSimulationOptions } from '../../src/simulate/options.ts';
import { planHive } from '../../src/simulate/plan.ts';
import { truthTables } from '../../src/simulate/truth.ts';

// Long recordings on a machine that may be busy.
vi.setConfig({ testTimeout: 60_000 });

const quiet = { calls: { scale: 0 } } as const;

const plan = (given: PartialSimulationOptions) => {
  const options = completeOptions(given);
  return planHive(options, seededRandom(options.seed));
};

const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
const sd = (values: readonly number[]) => {
  const middle = mean(values);
  return Math.sqrt(values.reduce((sum, value) => sum + (value - middle) ** 2, 0) / (values.length - 1));
};

describe('the plan of a simulated hive', () => {
  it('is the same for the same seed and another for another', () => {
    const tables = (seed: number) => truthTables(plan({ seed, lengthS: 900 }), 'a.wav');
    expect(tables(5)).toEqual(tables(5));
    expect(tables(5).pulses).not.toEqual(tables(6).pulses);
  });

  it('makes other bees for every seed, however near the seeds', () => {
    const first = Array.from({ length: 60 }, (_, seed) => plan({ seed, lengthS: 1, ...quiet }));
    const carriers = first.map(({ bees }) => bees[0]!.carrierHz);
    expect(new Set(carriers).size).toBe(60);
    expect(sd(carriers)).toBeGreaterThan(18);
    const middle = mean(carriers);
    const neighbours = mean(
      carriers.slice(1).map((carrier, index) => (carrier - middle) * (carriers[index]! - middle)),
    );
    expect(Math.abs(neighbours / sd(carriers) ** 2)).toBeLessThan(0.4);
  });

  it('does not depend on sample rate, encoding or level', () => {
    const base = truthTables(plan({ seed: 8, lengthS: 900 }), 'a.wav');
    const other = truthTables(
      plan({ seed: 8, lengthS: 900, sampleRateHz: 44_100, encoding: 'float32', microphones: [{}, {}] }),
      'a.wav',
    );
    expect(other).toEqual(base);
    const louder = truthTables(plan({ seed: 8, lengthS: 900, snrDb: 12 }), 'a.wav');
    expect(louder.pulses).toEqual(base.pulses);
  });

  it('keeps the same dances when other sounds are left out', () => {
    const full = plan({ seed: 2, lengthS: 900 });
    const bare = plan({ seed: 2, lengthS: 900, calls: { scale: 0 } });
    expect(bare.calls).toEqual([]);
    expect(full.calls.length).toBeGreaterThan(10);
    expect(bare.dances).toEqual(full.dances);
  });

  it('bounds every train by its first onset and last offset, and spares both from dropouts', () => {
    const { trains, pulses } = truthTables(plan({ seed: 3, lengthS: 3600 }), 'a.wav');
    expect(trains.length).toBeGreaterThan(100);
    const pulsesOf = new Map<string, typeof pulses>();
    for (const pulse of pulses)
      pulsesOf.set(pulse.train_id, [...(pulsesOf.get(pulse.train_id) ?? []), pulse]);
    for (const train of trains) {
      const own = pulsesOf.get(train.train_id)!;
      expect(own.length).toBe(train.pulse_count);
      expect(own[0]!.onset_s).toBe(train.start_s);
      expect(own[own.length - 1]!.offset_s).toBe(train.end_s);
      expect(train.duration_s).toBeCloseTo(train.end_s - train.start_s, 6);
      expect(train.duration_s!).toBeGreaterThanOrEqual(0.25 - 2e-6);
      own.slice(1).forEach((pulse, index) => {
        expect(pulse.onset_s).toBeGreaterThan(own[index]!.offset_s);
      });
    }
  });

  it('keeps pulses within the published lengths and 0.7 of the period', () => {
    const { bees } = plan({ seed: 4, bees: 200 });
    for (const bee of bees) {
      expect(bee.carrierHz).toBeGreaterThanOrEqual(215);
      expect(bee.carrierHz).toBeLessThanOrEqual(320);
      expect(bee.pulseRateHz).toBeGreaterThanOrEqual(12);
      expect(bee.pulseRateHz).toBeLessThanOrEqual(35);
      expect(bee.pulseLengthS).toBeLessThanOrEqual(Math.min(0.03, 0.7 / bee.pulseRateHz) + 1e-12);
      expect(bee.pulseLengthS).toBeGreaterThanOrEqual(0.015);
    }
  });

  it('scatters inner runs as published: 0.14 s + 0.025 s per 100 m, skewed right', () => {
    // CAB abstract 19790209325: SD of single durations 0.14 s growing by 0.025 s per 100 m, mostly skewed right.
    const distanceM = 800;
    const { dances, curve } = plan({
      seed: 11,
      ...quiet,
      lengthS: 25_000,
      dancesPerHour: 100,
      feeders: [{ feederId: 'far', distanceM }],
      beeSdS: 0,
      danceSdS: 0,
    });
    const durations = dances.flatMap(({ trains }) =>
      trains.slice(1, -1).map(({ startS, endS }) => endS - startS),
    );
    expect(durations.length).toBeGreaterThan(2000);
    const wantedSd = durationSdS(distanceM);
    expect(wantedSd).toBeCloseTo(0.34, 9);
    expect(mean(durations)).toBeCloseTo(curveDurationS(curve, distanceM), 1);
    expect(Math.abs(mean(durations) - curveDurationS(curve, distanceM))).toBeLessThan(0.025);
    expect(Math.abs(sd(durations) / wantedSd - 1)).toBeLessThan(0.06);
    const middle = mean(durations);
    const skewness = mean(durations.map((value) => ((value - middle) / sd(durations)) ** 3));
    expect(skewness).toBeGreaterThan(0.6);
  });

  it('scatters bees and dances as asked', () => {
    const { dances, bees } = plan({
      seed: 12,
      ...quiet,
      lengthS: 50_000,
      dancesPerHour: 100,
      feeders: [{ feederId: 'far', distanceM: 1000 }],
      bees: 150,
      medianCircuits: 3,
      beeSdS: 0.2,
      danceSdS: 0.1,
    });
    expect(Math.abs(sd(bees.map((bee) => bee.durationOffsetS)) / 0.2 - 1)).toBeLessThan(0.15);
    const offsets = new Map(bees.map((bee) => [bee.beeId, bee.durationOffsetS]));
    const residuals = dances.map((dance) => dance.expectedDurationS - 1.25 - offsets.get(dance.beeId)!);
    expect(Math.abs(sd(residuals) / 0.1 - 1)).toBeLessThan(0.08);
  });

  it('makes fewer circuits per 15 s the farther the source', () => {
    const { dances } = truthTables(
      plan({ seed: 13, ...quiet, lengthS: 25_000, dancesPerHour: 100, beeSdS: 0, danceSdS: 0 }),
      'a.wav',
    );
    const tempo = (distanceM: number) =>
      mean(
        dances.filter((dance) => dance.distance_m === distanceM).map((dance) => dance.circuits_per_15s ?? 0),
      );
    // About 10, 8, 6 and 5 (from memory of the classical tempo curve).
    expect(Math.abs(tempo(100) - 9.7)).toBeLessThan(1.2);
    expect(Math.abs(tempo(200) - 8)).toBeLessThan(1);
    expect(Math.abs(tempo(500) - 6)).toBeLessThan(0.7);
    expect(Math.abs(tempo(1000) - 4.9)).toBeLessThan(0.6);
    expect(meanReturnS(1000)).toBeGreaterThan(meanReturnS(100));
  });

  it('gives dances of treated bees their longer runs', () => {
    const { dances } = plan({
      seed: 14,
      ...quiet,
      lengthS: 20_000,
      beeSdS: 0,
      danceSdS: 0,
      treatments: [{ treatment: 'loaded', share: 0.5, durationFactor: 1.2, durationOffsetS: 0.1 }],
      feeders: [{ feederId: 'one', distanceM: 500 }],
    });
    const loaded = dances.filter((dance) => dance.treatment === 'loaded');
    const others = dances.filter((dance) => dance.treatment === null);
    expect(Math.abs(loaded.length / dances.length - 0.5)).toBeLessThan(0.12);
    for (const dance of loaded) expect(dance.expectedDurationS).toBeCloseTo(1.2 * 0.75 + 0.1, 9);
    for (const dance of others) expect(dance.expectedDurationS).toBeCloseTo(0.75, 9);
  });

  it('lets no more bees dance at once than asked, their carriers apart', () => {
    const { dances } = plan({ seed: 15, ...quiet, lengthS: 3600, dancesPerHour: 400, maxConcurrent: 3 });
    const spans = dances.map((dance) => ({
      dance,
      startS: dance.trains[0]!.startS,
      endS: dance.trains[dance.trains.length - 1]!.endS,
    }));
    let mostAtOnce = 0;
    for (const one of spans) {
      const others = spans.filter(
        (other) => other !== one && other.startS <= one.startS && other.endS > one.startS,
      );
      mostAtOnce = Math.max(mostAtOnce, 1 + others.length);
      for (const other of others) {
        expect(other.dance.beeId).not.toBe(one.dance.beeId);
        const gaps = one.dance.trains.flatMap((train) =>
          other.dance.trains.map((second) => Math.abs(train.carrierHz - second.carrierHz)),
        );
        expect(Math.min(...gaps)).toBeGreaterThanOrEqual(15);
      }
    }
    expect(mostAtOnce).toBe(3);
  });

  it('opens feeders one after another when asked', () => {
    const { dances } = plan({ seed: 16, ...quiet, lengthS: 7200, feederOrder: 'stepwise' });
    const distances = dances.map((dance) => dance.distanceM);
    expect([...distances].sort((a, b) => a - b)).toEqual(distances);
    expect(new Set(distances).size).toBe(7);
  });

  it('draws a colony its slope from the published range, or bends the curve', () => {
    // CAB abstract 19790209325: 0.0007 to 0.0020 s/m over 15 colonies.
    const slopes = Array.from({ length: 40 }, (_, seed) => {
      const { curve } = plan({ seed, lengthS: 1, ...quiet, curve: { kind: 'line', slopeSPerM: 'colony' } });
      return curve.kind === 'line' ? curve.slopeSPerM : Number.NaN;
    });
    expect(Math.min(...slopes)).toBeGreaterThanOrEqual(0.0007);
    expect(Math.max(...slopes)).toBeLessThanOrEqual(0.002);
    expect(sd(slopes)).toBeGreaterThan(0.0002);
    const { curve } = plan({ lengthS: 1, curve: { kind: 'saturating', riseS: 4, scaleM: 3000 } });
    expect(curveDurationS(curve, 0)).toBe(0.25);
    expect(curveDurationS(curve, 3000)).toBeCloseTo(0.25 + 4 * (1 - 1 / Math.E), 9);
  });

  it('sends dances to places that are no feeder, and tells how far they are', () => {
    const { dances } = truthTables(
      plan({ seed: 17, ...quiet, lengthS: 7200, unknownShare: 0.5, unknownRangeM: [300, 900] }),
      'a.wav',
    );
    const unknown = dances.filter((dance) => dance.feeder_id === null);
    expect(unknown.length).toBeGreaterThan(20);
    expect(unknown.length).toBeLessThan(dances.length);
    for (const dance of unknown) {
      expect(dance.distance_m).toBeGreaterThanOrEqual(300);
      expect(dance.distance_m).toBeLessThanOrEqual(900);
    }
  });
});
