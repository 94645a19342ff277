import {
  type Amiss,
  type ClockCheck,
  checkClock,
  hoursIntoDaylight,
  type TimedAngle,
} from '../../bearing/clock-check.ts';
import type { Site } from '../../bearing/sun.ts';
import type { StudyFindings } from '../study-findings.ts';

/** What the sun and the comb angles say of clock and comb. */
export interface ClockFindings {
  /** Dances when the sun was more than 6° below the horizon. */
  readonly nightDances: number;
  /** Hours to add to the clock for all dances to be by day; null where nothing helps or nothing is amiss. */
  readonly hoursIntoDaylight: number | null;
  /** null where too few comb angles can tell. */
  readonly check: ClockCheck | null;
  /** The same in words, a sentence each. */
  readonly words: readonly string[];
}

/**
 * Checks clock and comb of a study. Dances of one bee, or of bees to one feeder, are taken to be to one place on one
 * day; only dances with a comb angle on a vertical comb tell.
 *
 * @param site null where the hive's coordinates are not known
 */
export function clockFindings(findings: StudyFindings, site: Site | null, vertical: boolean): ClockFindings {
  if (site === null) {
    return none('Clock and comb cannot be checked: study.json has no coordinates of the hive.');
  }
  const timed = findings.dances.filter(({ instant }) => instant !== null);
  if (timed.length === 0) {
    return none(
      'Clock and comb cannot be checked: no dance has a clock time (recordings without a start time, or times without an offset and no time zone in study.json).',
    );
  }
  const instants = timed.map(({ instant }) => instant!);
  const night = timed.filter(({ sun }) => sun !== null && sun.elevationDeg < -6);
  const hours = night.length === 0 ? null : hoursIntoDaylight(site, instants);
  const check = vertical ? checkClock(site, angles(findings)) : null;
  const words = [
    ...(night.length === 0 ? [] : [nightWords(night.length, timed.length, hours)]),
    ...(vertical ? [checkWords(check)] : ['The comb is not vertical: its angles say nothing of the clock.']),
  ];
  return { nightDances: night.length, hoursIntoDaylight: hours, check, words };
}

/** Of the words those that say that something is amiss, for whoever does what rests on clock and comb. */
export function clockWarnings({ nightDances, check, words }: ClockFindings): readonly string[] {
  return [
    ...(nightDances > 0 ? words.slice(0, 1) : []),
    ...(check !== null && check.better.length > 0 ? words.slice(-1) : []),
  ];
}

const none = (word: string): ClockFindings => ({
  nightDances: 0,
  hoursIntoDaylight: null,
  check: null,
  words: [word],
});

// So many dances to places of known bearing make those of bees that may have changed theirs dispensable.
const enoughKnown = 6;

function angles({ dances, feeders }: StudyFindings): TimedAngle[] {
  const bearingOf = new Map(feeders.map(({ feederId, bearingDeg }) => [feederId, bearingDeg]));
  const all = dances.flatMap(({ dance, instant }): TimedAngle[] => {
    const { combAngleDeg, feederId, beeId, startTime } = dance;
    if (combAngleDeg === null || instant === null) return [];
    const day = startTime?.slice(0, 10) ?? '';
    if (feederId !== null) {
      return [
        { instant, combAngleDeg, source: `feeder ${feederId}`, bearingDeg: bearingOf.get(feederId) ?? null },
      ];
    }
    return beeId === null ? [] : [{ instant, combAngleDeg, source: `bee ${beeId} ${day}`, bearingDeg: null }];
  });
  const known = all.filter(({ bearingDeg }) => bearingDeg !== null);
  return known.length >= enoughKnown ? known : all;
}

const signed = (value: number, decimals: number) =>
  `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(decimals).replace(/\.0$/, '')}`;

function nightWords(night: number, all: number, hours: number | null): string {
  const told = `${night} of ${all} dances fall when the sun is more than 6° below the horizon: the clock, the time zone or the coordinates are wrong.`;
  return hours === null
    ? `${told} No shift of the clock by whole hours brings all of them into the day.`
    : `${told} With ${signed(hours, 0)} h on the clock all would be by day.`;
}

function checkWords(check: ClockCheck | null): string {
  if (check === null) {
    return (
      'Too few comb angles to check clock and comb by: wanted are those of four dances to feeders of known bearing ' +
      '(or of one bee on one day, who is taken to keep to one place), noted by combtone study note or on the review page.'
    );
  }
  const { dances, deviationDeg, better } = check;
  const asIs = `${dances} dances to constant sources lie ${deviationDeg.toFixed(1)}° (root mean square) from what the sun makes expect`;
  const [best, next] = better;
  if (best === undefined)
    return `${asIs}; no other clock, zero of the comb angles or sense of reading fits better.`;
  const rival =
    next !== undefined && next.aiccDifference - best.aiccDifference < 6
      ? ` Nearly as well ${amissWords(next)} Dances at other hours would tell the two apart.`
      : '';
  return `${asIs}. They would fit better ${amissWords(best)}${rival}`;
}

function amissWords({ kind, amount, deviationDeg }: Amiss): string {
  const left = `${deviationDeg.toFixed(1)}° would be left`;
  switch (kind) {
    case 'clock':
      return `with ${signed(amount, 1)} h on the clock (${left}): is the time zone right?`;
    case 'comb':
      return `with ${signed(amount, 1)}° on every comb angle (${left}): is straight up where it was taken to be, or do these bees miss that much?`;
    case 'mirrored':
      return `with the comb angles read the other way round (${left}): they are meant clockwise from straight up, as seen by whoever looks at the comb.`;
  }
}
