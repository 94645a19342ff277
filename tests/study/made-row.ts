import type { TrainRow } from '../../src/study/tables.ts';

/** A run of a dance as a table has it. */
export const trainRow = (start_s: number, end_s: number, more: Partial<TrainRow> = {}): TrainRow => ({
  recording: 'hive.wav',
  channel: 1,
  train_id: `t${start_s}`,
  dance_id: 'd1',
  start_s,
  end_s,
  duration_s: end_s - start_s,
  pulse_count: 10,
  pulse_rate_hz: 20,
  carrier_hz: 260,
  snr_db: 8,
  confidence: 0.9,
  start_time: null,
  status: 'found',
  ...more,
});
