import { describe, expect, test } from 'vitest';
import { compareTrains, concordance } from '../../src/study/agreement.ts';
import type { CallRow, TrainRow } from '../../src/study/tables.ts';

const train = (start_s: number, end_s: number): TrainRow => ({
  recording: 'hive.wav',
  channel: 1,
  train_id: `t${start_s}`,
  dance_id: null,
  start_s,
  end_s,
  duration_s: null,
  pulse_count: null,
  pulse_rate_hz: null,
  carrier_hz: null,
  snr_db: null,
  confidence: null,
  start_time: null,
  status: 'accepted',
});
const call = (start_s: number, kind: CallRow['kind']): CallRow => ({
  recording: 'hive.wav',
  channel: 1,
  call_id: `c${start_s}`,
  kind,
  start_s,
  end_s: start_s + 0.2,
  duration_s: null,
  carrier_hz: null,
  snr_db: null,
  confidence: null,
  start_time: null,
  status: 'accepted',
});

describe('concordance', () => {
  test('limits of agreement by hand: differences 0.01, 0.02, 0.03 s have mean 0.02 and SD 0.01', () => {
    const mine = { trains: [train(0, 1), train(2, 3), train(4, 5)], calls: [] };
    const theirs = { trains: [train(0, 1.01), train(2, 3.02), train(4, 5.03)], calls: [] };
    const { durationLimitsS, callKappa } = concordance(mine, theirs);
    expect(callKappa).toBeUndefined();
    expect(durationLimitsS?.bias.value).toBeCloseTo(0.02, 10);
    expect(durationLimitsS?.lower.value).toBeCloseTo(0.02 - 1.96 * 0.01, 10);
    expect(durationLimitsS?.upper.value).toBeCloseTo(0.02 + 1.96 * 0.01, 10);
  });

  test('kappa by hand: 3 of 4 calls named alike, chance 0.5 × 0.25 + 0.5 × 0.75 = 0.5, kappa 0.5', () => {
    const kinds = (names: CallRow['kind'][]) => ({
      trains: [],
      calls: names.map((kind, k) => call(k, kind)),
    });
    const { callKappa } = concordance(
      kinds(['begging', 'begging', 'piping', 'piping']),
      kinds(['begging', 'piping', 'piping', 'piping']),
    );
    expect(callKappa?.value).toBeCloseTo(0.5, 10);
  });
});

test('a train found where none is was taken from a begging call that more than half of it lies on', () => {
  const begging = (start_s: number, end_s: number): CallRow => ({ ...call(start_s, 'begging'), end_s });
  const taken = (start_s: number, end_s: number) =>
    compareTrains([], [train(10, 11)], [begging(start_s, end_s)]).beggingCallsTakenForTrains;
  expect(taken(10.4, 12)).toBe(1);
  expect(taken(10.8, 12)).toBe(0);
  // Less than half of it, but a third of both together.
  expect(taken(10.55, 11.1)).toBe(1);
  expect(taken(11.1, 12)).toBe(0);
});
