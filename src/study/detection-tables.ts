import type { Detection } from '../dance/detect.ts';
import { deviationOf, meanOf } from '../signal/quantile.ts';
import { circuitsPer15sOf } from './circuits.ts';
import { clockTimeAfter } from './clock.ts';
import type { CallRow, DanceRow, TrainRow } from './tables.ts';

/** Which recording a detection belongs to. */
export interface Heard {
  /** The recording's file name, as it stands in the tables. */
  readonly recording: string;
  /** Name without extension, for ids. */
  readonly stem: string;
  readonly startTime: string | null;
}

/** Rows of trains.csv, calls.csv and dances.csv, each in order of start. */
export interface DetectionTables {
  readonly trains: TrainRow[];
  readonly calls: CallRow[];
  readonly dances: DanceRow[];
}

/** A detection as rows of trains.csv, calls.csv and dances.csv. Times to 0.1 ms, confidence to 0.001. */
export function detectionTables(detection: Detection, heard: Heard): DetectionTables {
  const { recording, startTime } = heard;
  const id = (letter: string, index: number) =>
    `${heard.stem}-${letter}${String(index + 1).padStart(4, '0')}`;
  const trains = detection.trains.map((train, index): TrainRow => {
    const startS = rounded(train.startS, 4);
    const endS = rounded(train.endS, 4);
    return {
      recording,
      channel: train.channel,
      train_id: id('t', index),
      dance_id: id('d', train.dance),
      start_s: startS,
      end_s: endS,
      duration_s: rounded(endS - startS, 4),
      pulse_count: train.pulseTimesS.length,
      pulse_rate_hz: rounded(1 / train.beatS, 2),
      carrier_hz: rounded(train.carrierHz, 1),
      snr_db: rounded(train.snrDb, 1),
      confidence: rounded(train.confidence, 3),
      start_time: clockTimeAfter(startTime, startS),
      status: 'found',
      also_channels: train.alsoChannels.length === 0 ? null : train.alsoChannels.join(';'),
    };
  });
  const calls = detection.calls.map((call, index): CallRow => {
    const startS = rounded(call.startS, 4);
    const endS = rounded(call.endS, 4);
    return {
      recording,
      channel: call.channel,
      call_id: id('c', index),
      kind: call.kind,
      start_s: startS,
      end_s: endS,
      duration_s: rounded(endS - startS, 4),
      carrier_hz: rounded(call.carrierHz, 1),
      snr_db: rounded(call.snrDb, 1),
      confidence: rounded(call.confidence, 3),
      start_time: clockTimeAfter(startTime, startS),
      status: 'found',
    };
  });
  return { trains, calls, dances: danceRows(trains) };
}

/**
 * One row of dances.csv for each dance that trains name. Durations are those of the inner runs (all but the
 * first and the last, which vary more; all where there are fewer than four). Circuits per 15 s is 15 s over the
 * mean of the circuits that the same runs begin, as far as they are timed (`circuitsPer15sOf`), so that an estimate
 * from these runs rests on this tempo; the return phases are those of these circuits.
 * Runs without a duration, such as those cut by the end of a recording, count but have no part in the means.
 *
 * Source: Couvillon et al. 2012, Biology Open 1:467 (which runs to use).
 */
export function danceRows(trains: readonly TrainRow[]): DanceRow[] {
  const byDance = new Map<string, TrainRow[]>();
  for (const train of trains) {
    if (train.dance_id === null || train.status === 'rejected') continue;
    const runs = byDance.get(train.dance_id);
    if (runs) runs.push(train);
    else byDance.set(train.dance_id, [train]);
  }
  return [...byDance].map(([danceId, members]) => {
    const runs = [...members].sort((a, b) => a.start_s - b.start_s);
    const used = innerRuns(runs).filter(({ duration_s }) => duration_s !== null);
    const durations = used.map((run) => run.end_s - run.start_s);
    const circuits = circuitsPer15sOf(runs);
    const timed = innerRuns(
      runs.map((run, k) => ({ run, next: runs[k + 1], circuits: circuits[k] })),
    ).flatMap(({ run, next, circuits }) =>
      next === undefined || circuits == null
        ? []
        : [{ circuitS: 15 / circuits, returnS: next.start_s - run.end_s }],
    );
    const carriers = runs.flatMap((run) => (run.carrier_hz === null ? [] : [run.carrier_hz]));
    return {
      ...emptyDance,
      recording: runs[0]!.recording,
      channel: runs[0]!.channel,
      dance_id: danceId,
      start_s: runs[0]!.start_s,
      end_s: Math.max(...runs.map((run) => run.end_s)),
      run_count: runs.length,
      used_runs: used.length,
      mean_duration_s: rounded(meanOf(durations), 4),
      sd_duration_s: known(deviationOf(durations), 4),
      mean_return_s: known(meanOf(timed.map(({ returnS }) => returnS)), 4),
      circuits_per_15s: known(15 / meanOf(timed.map(({ circuitS }) => circuitS)), 3),
      carrier_hz: known(meanOf(carriers), 1),
    };
  });
}

/** Runs 2 to n − 1 of a dance in order; all where there are fewer than four. */
export function innerRuns<T>(runs: readonly T[]): readonly T[] {
  return runs.length < 4 ? runs : runs.slice(1, -1);
}

const emptyDance = {
  bee_id: null,
  feeder_id: null,
  treatment: null,
  comb_angle_deg: null,
  distance_m: null,
  distance_low_m: null,
  distance_high_m: null,
  level: null,
  in_range: null,
  bearing_deg: null,
  latitude: null,
  longitude: null,
};

function rounded(value: number, decimals: number): number {
  return Number(value.toFixed(decimals));
}

function known(value: number, decimals: number): number | null {
  return Number.isFinite(value) ? rounded(value, decimals) : null;
}
