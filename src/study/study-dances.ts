import { medianOf } from '../signal/quantile.ts';
import { danceRows, innerRuns } from './detection-tables.ts';
import type { StoredDance, StoredSound } from './store/rows.ts';
import { isReviewed } from './study-merge.ts';
import type { Dance } from './study-schemas.ts';
import type { TrainRow } from './tables.ts';

/** What the openings and feeders say of a dance. */
export interface LikelyFeeder {
  readonly feederId: string | null;
  readonly conflict: readonly string[];
}

export interface DanceSurroundings {
  readonly recordingName: string;
  readonly startTimeAt: (timeS: number) => string | null;
  readonly likelyFeeder: (startS: number, endS: number) => LikelyFeeder;
  readonly feederDistanceM: (feederId: string) => number | null;
}

/** A row of trains.csv of a sound. */
export function trainRowOf(sound: StoredSound, recording: string, startTime: string | null): TrainRow {
  return {
    recording,
    channel: sound.channel,
    train_id: sound.id,
    dance_id: sound.danceId,
    start_s: sound.startS,
    end_s: sound.endS,
    duration_s: Number((sound.endS - sound.startS).toFixed(4)),
    pulse_count: sound.pulseCount,
    pulse_rate_hz: sound.pulseRateHz,
    carrier_hz: sound.carrierHz,
    snr_db: sound.snrDb,
    confidence: sound.confidence,
    start_time: startTime,
    status: sound.status,
  };
}

/** A dance summed up over its runs; null when no run is left that is not rejected. */
export function danceOfRuns(
  stored: StoredDance,
  runs: readonly StoredSound[],
  around: DanceSurroundings,
): Dance | null {
  const rows = runs.map((run) => trainRowOf(run, around.recordingName, null));
  const reviewedRuns = runs.filter((run) => run.status !== 'rejected' && isReviewed(run)).length;
  return danceOfRows(stored, rows, reviewedRuns, around);
}

/** As `danceOfRuns`, of runs as rows. */
export function danceOfRows(
  stored: StoredDance,
  rows: readonly TrainRow[],
  reviewedRuns: number,
  around: DanceSurroundings,
): Dance | null {
  const summary = danceRows(rows)[0];
  if (summary === undefined) return null;
  const likely = around.likelyFeeder(summary.start_s, summary.end_s);
  const feederId = stored.feederSet ? stored.feederId : likely.feederId;
  // Each member by its name: spread out, the objects of a large study's dances take several times the memory.
  return {
    id: stored.id,
    version: stored.version,
    recordingId: stored.recordingId,
    channel: stored.channel,
    beeId: stored.beeId,
    paintMark: stored.paintMark,
    feederId,
    treatment: stored.treatment,
    combAngleDeg: stored.combAngleDeg,
    note: stored.note,
    feederSource: stored.feederSet ? 'reviewer' : feederId === null ? null : 'opening',
    feederConflict: stored.feederSet ? [] : [...likely.conflict],
    feederDistanceM: feederId === null ? null : around.feederDistanceM(feederId),
    startS: summary.start_s,
    endS: summary.end_s,
    startTime: around.startTimeAt(summary.start_s),
    runCount: summary.run_count,
    usedRuns: summary.used_runs ?? 0,
    reviewedRuns,
    meanDurationS: summary.mean_duration_s,
    sdDurationS: summary.sd_duration_s,
    meanReturnS: summary.mean_return_s,
    circuitsPer15s: summary.circuits_per_15s,
    carrierHz: summary.carrier_hz,
  };
}

/** What the ladder shows of one run. */
export interface RunInDance {
  readonly id: string;
  readonly durationS: number;
  readonly returnS: number | null;
  readonly used: boolean;
  readonly odd: boolean;
}

const ODD_DEVIATIONS = 3.5;
/** Makes the median absolute deviation of a normal distribution its SD: 1 / Φ⁻¹(3/4). */
const MAD_TO_SD = 1.4826;

/**
 * The runs of a dance in order of start, rejected ones too (never used, never odd). A run is odd when its
 * duration lies more than 3.5 scaled median absolute deviations from the median of the dance (the cut of
 * Iglewicz & Hoaglin 1993, How to detect and handle outliers; from memory), where there are five runs or more.
 *
 * @param cut ids of runs whose duration is not known: they are not odd, nor part of the median
 */
export function runsInDance(
  runs: readonly StoredSound[],
  cut: ReadonlySet<string> = new Set(),
): RunInDance[] {
  const ordered = [...runs].sort((a, b) => a.startS - b.startS);
  const real = ordered.filter((run) => run.status !== 'rejected');
  const used = new Set(innerRuns(real).map(({ id }) => id));
  const whole = real.filter(({ id }) => !cut.has(id));
  const durations = whole.map((run) => run.endS - run.startS);
  const middleS = medianOf(durations);
  const spreadS = MAD_TO_SD * medianOf(durations.map((duration) => Math.abs(duration - middleS)));
  // Times are good to some 10 ms: runs alike to that are not odd for differing by more.
  const limitS = ODD_DEVIATIONS * Math.max(spreadS, 0.01);
  return ordered.map((run) => {
    const place = real.indexOf(run);
    const next = place < 0 ? undefined : real[place + 1];
    const durationS = run.endS - run.startS;
    return {
      id: run.id,
      durationS,
      returnS: next === undefined ? null : next.startS - run.endS,
      used: used.has(run.id),
      odd: place >= 0 && !cut.has(run.id) && whole.length >= 5 && Math.abs(durationS - middleS) > limitS,
    };
  });
}
