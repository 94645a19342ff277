import { bisectLeft, bisectRight } from 'd3-array';
import { turnDeg, within360 } from '../../bearing/angles.ts';
import { combAngleTo } from '../../bearing/comb-angle.ts';
import type { DanceFinding, StudyFindings } from '../study-findings.ts';
import type { DayDanceRow } from './day-tables.ts';

/** A call or run as counting takes it. */
export interface PlacedSound {
  readonly recordingId: number;
  readonly channel: number;
  readonly startS: number;
}

/** What a table of dances over the day is made from beside the findings. */
export interface DayContext {
  /** Begging calls that are not rejected. */
  readonly begging: Iterable<PlacedSound>;
  /** Hour of the day at the hive, with its fraction, of a dance; null where the clock is not known. */
  readonly hourOf: (finding: DanceFinding) => number | null;
  readonly vertical: boolean;
}

/**
 * One row per dance: measures that go with how rewarding its source is (tempo, runs, length of the return phases,
 * length of the dance, begging calls a minute of it), and its comb angle against the one that its feeder's bearing
 * and the sun make expect.
 */
export function dayDanceRows(findings: StudyFindings, context: DayContext): DayDanceRow[] {
  const bearingOf = new Map(findings.feeders.map(({ feederId, bearingDeg }) => [feederId, bearingDeg]));
  const beggingDuring = counterOf(context.begging);
  return findings.dances.map((finding) => {
    const { dance, parts, sun, flags } = finding;
    const durationS = dance.endS - dance.startS;
    const begging = parts.reduce((sum, part) => sum + beggingDuring(part), 0);
    const bearing = dance.feederId === null ? null : (bearingOf.get(dance.feederId) ?? null);
    const expected =
      bearing === null || sun === null || !context.vertical ? null : combAngleTo(bearing, sun.azimuthDeg);
    const observed = dance.combAngleDeg;
    return {
      dance_id: dance.id,
      bee_id: dance.beeId,
      feeder_id: dance.feederId,
      start_time: dance.startTime,
      hour: rounded(context.hourOf(finding), 4),
      run_count: dance.runCount,
      dance_duration_s: rounded(durationS, 3)!,
      circuits_per_15s: dance.circuitsPer15s,
      mean_return_s: dance.meanReturnS,
      begging_calls: begging,
      begging_calls_per_min: durationS > 0 ? rounded((60 * begging) / durationS, 3) : null,
      comb_angle_deg: direction(observed),
      expected_comb_angle_deg: direction(expected),
      deviation_deg: expected === null || observed === null ? null : rounded(turnDeg(expected, observed), 3),
      sun_azimuth_deg: rounded(sun?.azimuthDeg ?? null, 3),
      sun_elevation_deg: rounded(sun?.elevationDeg ?? null, 3),
      flags: flags.filter((flag) => flag !== 'no comb angle').join('; ') || null,
    };
  });
}

/** Counts the sounds that begin within a stretch of a channel, its ends included; each stretch costs but a search. */
function counterOf(sounds: Iterable<PlacedSound>) {
  const key = ({ recordingId, channel }: Omit<PlacedSound, 'startS'>) => `${recordingId}/${channel}`;
  const starts = new Map<string, number[]>();
  for (const sound of sounds) {
    const own = starts.get(key(sound));
    if (own === undefined) starts.set(key(sound), [sound.startS]);
    else own.push(sound.startS);
  }
  for (const own of starts.values()) own.sort((a, b) => a - b);
  return (stretch: PlacedSound & { readonly endS: number }): number => {
    const own = starts.get(key(stretch)) ?? [];
    return bisectRight(own, stretch.endS) - bisectLeft(own, stretch.startS);
  };
}

/** A direction as a table has it: one a hair short of 360° is 0°. */
const direction = (angleDeg: number | null): number | null =>
  angleDeg === null ? null : within360(rounded(angleDeg, 3)!);

/** A figure as a table has it; null where it is unknown or not finite, and never −0. */
export function rounded(value: number | null, decimals: number): number | null {
  return value === null || !Number.isFinite(value) ? null : Number(value.toFixed(decimals)) + 0;
}
