import { z } from 'zod';
import type { CallRow, DanceRow, TrainRow } from '../study/tables.ts';
import type { PlannedDance } from './dances.ts';
import type { HivePlan } from './plan.ts';

/**
 * One row per pulse of every train. Onset and offset are the times where the pulse's amplitude first and last
 * exceeds 10 % of its peak, in s from the recording's start.
 */
export const pulseSchema = z.object({
  recording: z.string(),
  channel: z.number().int().min(1),
  train_id: z.string(),
  onset_s: z.number(),
  offset_s: z.number(),
});

export type PulseRow = z.infer<typeof pulseSchema>;

/** What is true of a simulated recording, as rows of the study's tables. Channel is always 1. */
export interface TruthTables {
  readonly trains: TrainRow[];
  readonly calls: CallRow[];
  readonly dances: DanceRow[];
  readonly pulses: PulseRow[];
}

/** The truth tables of a plan. @param recording name of the recording's file */
export function truthTables(plan: HivePlan, recording: string): TruthTables {
  const { startTime } = plan.options;
  const trains = plan.dances
    .flatMap((dance) => dance.trains)
    .sort((a, b) => a.startS - b.startS || (a.trainId < b.trainId ? -1 : 1));
  return {
    trains: trains.map((train) => ({
      recording,
      channel: 1,
      train_id: train.trainId,
      dance_id: train.danceId,
      ...span(train.startS, train.endS),
      pulse_count: train.pulses.length,
      pulse_rate_hz: rounded(train.pulseRateHz, 4),
      carrier_hz: rounded(train.carrierHz, 3),
      snr_db: rounded(train.snrDb, 3),
      confidence: 1,
      start_time: clockTime(startTime, train.startS),
      status: 'accepted',
      also_channels: null,
    })),
    calls: plan.calls.map((call) => ({
      recording,
      channel: 1,
      call_id: call.callId,
      kind: call.kind,
      ...span(call.startS, call.endS),
      carrier_hz: call.carrierHz === null ? null : rounded(call.carrierHz, 3),
      snr_db: rounded(call.snrDb, 3),
      confidence: 1,
      start_time: clockTime(startTime, call.startS),
      status: 'accepted',
    })),
    dances: plan.dances.map((dance) => danceRow(dance, recording)),
    pulses: trains.flatMap((train) =>
      train.pulses.map(({ onsetS, offsetS }) => ({
        recording,
        channel: 1,
        train_id: train.trainId,
        onset_s: rounded(onsetS, 6),
        offset_s: rounded(offsetS, 6),
      })),
    ),
  };
}

function danceRow(dance: PlannedDance, recording: string): DanceRow {
  const { trains } = dance;
  const durations = trains.map(({ startS, endS }) => endS - startS);
  const returns = trains.slice(1).map((train, index) => train.startS - trains[index]!.endS);
  const circuitsS = trains[trains.length - 1]!.startS - trains[0]!.startS;
  const meanS = mean(durations)!;
  const squares = durations.reduce((sum, duration) => sum + (duration - meanS) ** 2, 0);
  return {
    recording,
    channel: 1,
    dance_id: dance.danceId,
    start_s: rounded(trains[0]!.startS, 6),
    end_s: rounded(trains[trains.length - 1]!.endS, 6),
    run_count: trains.length,
    used_runs: trains.length,
    mean_duration_s: rounded(meanS, 6),
    sd_duration_s: trains.length > 1 ? rounded(Math.sqrt(squares / (trains.length - 1)), 6) : null,
    mean_return_s: returns.length > 0 ? rounded(mean(returns)!, 6) : null,
    circuits_per_15s: trains.length > 1 ? rounded((15 * (trains.length - 1)) / circuitsS, 4) : null,
    carrier_hz: rounded(mean(trains.map(({ carrierHz }) => carrierHz))!, 3),
    bee_id: dance.beeId,
    feeder_id: dance.feederId,
    treatment: dance.treatment,
    comb_angle_deg: null,
    distance_m: dance.distanceM,
    distance_low_m: null,
    distance_high_m: null,
    level: null,
    in_range: null,
    bearing_deg: null,
    latitude: null,
    longitude: null,
  };
}

/** The duration is that between the two rounded ends, so that the table agrees with itself. */
function span(startS: number, endS: number) {
  const [start_s, end_s] = [rounded(startS, 6), rounded(endS, 6)];
  return { start_s, end_s, duration_s: rounded(end_s - start_s, 6) };
}

/**
 * Clock time so many seconds after a start (ISO 8601), to the millisecond, with the start's offset; a start
 * without offset gives wall-clock time without offset.
 */
function clockTime(startTime: string | null, timeS: number): string | null {
  if (startTime === null) return null;
  const match = /^(.*?)(Z|[+-]\d\d:?\d\d)?$/.exec(startTime)!;
  const wall = new Date(Date.parse(`${match[1]}Z`) + Math.round(1000 * timeS));
  return wall.toISOString().replace('Z', match[2] ?? '');
}

function rounded(value: number, places: number): number {
  return Math.round(value * 10 ** places) / 10 ** places;
}

function mean(values: readonly number[]): number | null {
  return values.length === 0 ? null : values.reduce((sum, value) => sum + value, 0) / values.length;
}
