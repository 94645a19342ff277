import type { Calibration } from '../calibration/calibrate.ts';
import { estimateDistance } from '../calibration/estimate.ts';
import { summariseRuns } from '../calibration/runs.ts';
import { circuitsPer15s, circuitTimeS } from '../calibration/tempo.ts';
import { type CalibrationRecord, fromMeasureRecord } from './calibration-record.ts';
import type { ObservedDance } from './observations.ts';
import type { EstimateRow } from './tables.ts';

/**
 * Distances of dances by a calibration: from the mean run duration where the calibration and the dance both
 * have it, otherwise from the tempo. The runs used are chosen as they were for the calibration.
 *
 * @param level probability of the intervals, between 0 and 1
 * @returns one row per dance, in the dances' order; metres to the centimetre, seconds to the microsecond
 */
export function estimateRows(
  record: CalibrationRecord,
  dances: readonly ObservedDance[],
  level: number,
): EstimateRow[] {
  const duration = record.duration === null ? undefined : fromMeasureRecord(record.duration);
  const tempo = record.tempo === null ? undefined : fromMeasureRecord(record.tempo);
  return dances.map((dance) => estimateRow(record, duration, tempo, dance, level));
}

function estimateRow(
  record: CalibrationRecord,
  duration: Calibration | undefined,
  tempo: Calibration | undefined,
  dance: ObservedDance,
  level: number,
): EstimateRow {
  const { runs } = record.settings;
  const durations = summariseRuns(dance.durationsS, runs);
  const circuits = summariseRuns(
    dance.circuitsPer15s.map((value) => (value === null ? null : circuitTimeS(value))),
    runs,
  );
  const byDuration = duration && durations && { calibration: duration, summary: durations };
  const byTempo = tempo && circuits && { calibration: tempo, summary: circuits };
  const read = byDuration ?? byTempo;
  const shared = {
    dance_id: dance.danceId,
    bee_id: dance.beeId,
    run_count: dance.durationsS.length,
    used_runs: (read?.summary ?? durations ?? circuits)?.usedRuns ?? 0,
    mean_duration_s: rounded(durations?.meanS ?? null, 6),
    circuits_per_15s: circuits === undefined ? null : rounded(circuitsPer15s(circuits.meanS), 6),
    level,
  };
  if (read === undefined) {
    const note = durations || circuits ? 'not calibrated for what was timed' : 'no run timed';
    const unknown = { distance_m: null, distance_low_m: null, distance_high_m: null, in_range: null };
    return { ...shared, ...unknown, note };
  }
  const estimate = estimateDistance(read.calibration, read.summary.meanS, read.summary.usedRuns, level);
  const notes = byDuration ? estimate.notes : ['from tempo', ...estimate.notes];
  return {
    ...shared,
    distance_m: rounded(estimate.distanceM, 2),
    distance_low_m: rounded(estimate.lowM, 2),
    distance_high_m: rounded(estimate.highM, 2),
    in_range: estimate.inRange,
    note: notes.length === 0 ? null : notes.join('; '),
  };
}

function rounded(value: number | null, decimals: number): number | null {
  return value === null ? null : Math.round(value * 10 ** decimals) / 10 ** decimals;
}
