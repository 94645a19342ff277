import { describe, expect, test } from 'vitest';
import { summariseRuns } from '../../src/calibration/runs.ts';
import { clockTimeAfter } from '../../src/study/clock.ts';
import { danceRows, detectionTables, innerRuns } from '../../src/study/detection-tables.ts';
import { observationsOfDances } from '../../src/study/observations-of-dances.ts';
import { trainRow as train } from './made-row.ts';

describe('danceRows', () => {
  test('a dance of five runs, by hand', () => {
    // Inner runs last 0.5, 0.6, 0.7 s: mean 0.6, SD 0.1. Circuits all take 2.5 s: 6 in 15 s.
    // Return phases after the inner runs: 2.0, 1.9, 1.8 s: mean 1.9.
    const rows = danceRows([
      train(0, 0.9, { carrier_hz: 250 }),
      train(2.5, 3.0, { carrier_hz: 255 }),
      train(5.0, 5.6, { carrier_hz: 260 }),
      train(7.5, 8.2, { carrier_hz: 265 }),
      train(10.0, 10.3, { carrier_hz: 270 }),
    ]);
    expect(rows).toEqual([
      expect.objectContaining({
        recording: 'hive.wav',
        channel: 1,
        dance_id: 'd1',
        start_s: 0,
        end_s: 10.3,
        run_count: 5,
        used_runs: 3,
        mean_duration_s: 0.6,
        sd_duration_s: 0.1,
        mean_return_s: 1.9,
        circuits_per_15s: 6,
        carrier_hz: 260,
        bee_id: null,
        distance_m: null,
      }),
    ]);
  });

  test('a circuit in which a run went unheard counts neither for tempo nor for the return', () => {
    // Circuits of 2, 2, 4, 2 s: the one of 4 s is left out; returns of 1.5 s each.
    const rows = danceRows([0, 2, 4, 8, 10].map((start) => train(start, start + 0.5)));
    expect(rows[0]).toMatchObject({ circuits_per_15s: 7.5, mean_return_s: 1.5, run_count: 5 });
  });

  test('tempo and return are of the same runs as the duration, and an estimate has the same tempo', () => {
    // The first circuit, of 2.2 s, is the first run's, which is not used; those after take 2.5, 2.7 and 2.9 s.
    const runs = [0, 2.2, 4.7, 7.4, 10.3].map((start) => train(start, start + 0.5));
    const [row] = danceRows(runs);
    expect(row).toMatchObject({ circuits_per_15s: 5.556, mean_return_s: 2.2 });
    const note = { beeId: null, distanceM: null, treatment: null };
    const circuits = observationsOfDances(runs, new Map([['d1', note]])).map((one) => one.circuits_per_15s);
    const used = summariseRuns(
      circuits.map((tempo) => (tempo === null ? null : 15 / tempo)),
      'inner',
    );
    expect(15 / used!.meanS).toBeCloseTo(row!.circuits_per_15s!, 3);
    expect(used!.usedRuns).toBe(row!.used_runs);
  });

  test('three runs are all used; two give a tempo; one gives none, and no SD', () => {
    expect(danceRows([train(0, 0.5), train(2, 2.7), train(4, 4.6)])[0]).toMatchObject({
      run_count: 3,
      used_runs: 3,
      mean_duration_s: 0.6,
    });
    expect(danceRows([train(0, 0.5), train(3, 3.5)])[0]).toMatchObject({ used_runs: 2, circuits_per_15s: 5 });
    expect(danceRows([train(0, 0.5)])[0]).toMatchObject({
      run_count: 1,
      used_runs: 1,
      mean_duration_s: 0.5,
      sd_duration_s: null,
      mean_return_s: null,
      circuits_per_15s: null,
    });
  });

  test('rejected trains and trains of no dance are left out; order does not matter', () => {
    const kept = [train(0, 0.5), train(2, 2.7), train(4, 4.6)];
    const rows = danceRows([
      kept[2]!,
      train(1, 1.4, { status: 'rejected' }),
      kept[0]!,
      train(3, 3.5, { dance_id: null }),
      kept[1]!,
    ]);
    expect(rows).toEqual(danceRows(kept));
  });

  test('unknown carriers leave the carrier unknown, not zero', () => {
    expect(danceRows([train(0, 0.5, { carrier_hz: null })])[0]!.carrier_hz).toBeNull();
  });
});

test('innerRuns: all but the first and last, from four runs on', () => {
  expect(innerRuns([1, 2, 3])).toEqual([1, 2, 3]);
  expect(innerRuns([1, 2, 3, 4])).toEqual([2, 3]);
});

describe('detectionTables', () => {
  const found = {
    startS: 1.23456,
    endS: 1.98764,
    pulseTimesS: [1.25, 1.3, 1.35],
    beatS: 0.05,
    carrierHz: 261.26,
    snrDb: 7.26,
    confidence: 0.98765,
    dance: 0,
    channel: 1,
    alsoChannels: [],
  };
  const call = {
    kind: 'begging' as const,
    startS: 5,
    endS: 5.1,
    carrierHz: 320,
    snrDb: 9,
    confidence: 0.8,
    channel: 1,
    alsoChannels: [],
  };

  test('rounds, numbers and dates the rows', () => {
    const { trains, calls, dances } = detectionTables(
      { trains: [found], calls: [call], noiseDb: [-60] },
      { recording: 'hive.wav', stem: 'hive', startTime: '2031-06-14T09:30:00+02:00' },
    );
    expect(trains).toEqual([
      {
        recording: 'hive.wav',
        channel: 1,
        train_id: 'hive-t0001',
        dance_id: 'hive-d0001',
        start_s: 1.2346,
        end_s: 1.9876,
        duration_s: 0.753,
        pulse_count: 3,
        pulse_rate_hz: 20,
        carrier_hz: 261.3,
        snr_db: 7.3,
        confidence: 0.988,
        start_time: '2031-06-14T09:30:01.235+02:00',
        status: 'found',
        also_channels: null,
      },
    ]);
    expect(calls).toMatchObject([{ call_id: 'hive-c0001', kind: 'begging', start_s: 5, end_s: 5.1 }]);
    expect(dances).toMatchObject([{ dance_id: 'hive-d0001', run_count: 1 }]);
  });

  test('a run heard on two channels is one row that names the other channel', () => {
    const { trains } = detectionTables(
      { trains: [{ ...found, channel: 2, alsoChannels: [1, 3] }], calls: [], noiseDb: [-60] },
      { recording: 'hive.wav', stem: 'hive', startTime: null },
    );
    expect(trains[0]).toMatchObject({ channel: 2, also_channels: '1;3', start_time: null });
  });
});

describe('clockTimeAfter', () => {
  test.each([
    ['2031-06-14T09:30:00+02:00', 0, '2031-06-14T09:30:00.000+02:00'],
    ['2031-06-14T09:30:00+02:00', 90.0016, '2031-06-14T09:31:30.002+02:00'],
    ['2031-06-14T23:59:59-07:30', 2, '2031-06-15T00:00:01.000-07:30'],
    ['2031-12-31T23:59:59Z', 1, '2032-01-01T00:00:00.000Z'],
    ['2032-02-28T12:00:00', 86_400, '2032-02-29T12:00:00.000'],
    ['2031-06-14T09:30:00.250Z', 0.5, '2031-06-14T09:30:00.750Z'],
  ])('%s and %d s is %s', (start, offsetS, wanted) => {
    expect(clockTimeAfter(start, offsetS)).toBe(wanted);
  });

  test('no start, or one that is no time, gives none', () => {
    expect(clockTimeAfter(null, 5)).toBeNull();
    expect(clockTimeAfter('yesterday', 5)).toBeNull();
  });
});
