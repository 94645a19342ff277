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

describe('errors of matched times', () => {
  /** Runs of 1 s whose onsets are found so many ms late, their ends at the right time. */
  const onsetErrors = (errorsMs: readonly number[]) =>
    compareTrains(
      errorsMs.map((_, k) => train(10 * k, 10 * k + 1)),
      errorsMs.map((errorMs, k) => train(10 * k + errorMs / 1000, 10 * k + 1)),
    ).onset;

  test.each([
    // quantile(x, c(0.05, 0.95), type = 7) of R 4.2.2, and numpy.quantile of NumPy 2.4.6.
    [[52, -41, 33, -30, 20, -22, 14, -17, 11, -12, 8, -9, 5, -7, 3, -4, 2, -2, 1, -1], -30.55, 33.95],
    [[-8, 3, 12, 30, 7], -5.8, 26.4],
    // By hand: of two, 5 % of the way from one to the other.
    [[10, 30], 11, 29],
    [[12], 12, 12],
  ])('5 and 95 %% of %j are %d and %d ms', (errorsMs, lowMs, highMs) => {
    const errors = onsetErrors(errorsMs);
    expect(errors.lowMs).toBeCloseTo(lowMs, 9);
    expect(errors.highMs).toBeCloseTo(highMs, 9);
  });

  test('turned about nought, have the same quantiles turned about nought', () => {
    // Twenty, of which 5 % is one: neither end may be nearer to the middle than the other.
    const errorsMs = Array.from({ length: 20 }, (_, k) => (k - 4) ** 2);
    const { lowMs, highMs } = onsetErrors(errorsMs);
    const turned = onsetErrors(errorsMs.map((errorMs) => -errorMs));
    expect(turned.lowMs).toBeCloseTo(-highMs!, 9);
    expect(turned.highMs).toBeCloseTo(-lowMs!, 9);
  });

  test('of no run at all are unknown', () => {
    expect(onsetErrors([])).toEqual({ medianAbsoluteMs: null, medianMs: null, lowMs: null, highMs: null });
  });
});
