import { DateTime } from 'luxon';
import { instantOf } from '../../bearing/local-time.ts';
import { placedSounds } from '../store/long-reads.ts';
import { allRecordings, type StoredRecording } from '../store/recordings.ts';
import { type DanceFinding, type StudyFindings, studyFindings } from '../study-findings.ts';
import { siteOf } from '../study-folder.ts';
import type { StudyView } from '../study-view.ts';
import { defaultWindowMin } from './arrival-window.ts';
import { type Arrival, studyArrivals } from './arrivals.ts';
import { type ClockSpan, dayHourRows } from './by-hour.ts';
import { type ClockFindings, clockFindings } from './clock-words.ts';
import { dayDanceRows } from './day-dances.ts';
import type { ArrivalLatencyRow, DayDanceRow, DayHourRow } from './day-tables.ts';
import { arrivalLatencies } from './recruits.ts';

/** What a study shows over the day. */
export interface StudyDay {
  readonly dances: readonly DayDanceRow[];
  readonly hours: readonly DayHourRow[];
  readonly arrivals: readonly ArrivalLatencyRow[];
  readonly clock: ClockFindings;
  /** Recordings without a clock time, whose dances have no hour. */
  readonly unclocked: number;
  /** What to beware of. */
  readonly cautions: readonly string[];
  readonly windowMin: number;
}

// Dances last from a few seconds to three minutes or so.
const longestDanceS = 180;

/**
 * Dances, begging calls and arrivals over the day, and the check of clock and comb.
 *
 * @throws InputError for an arrivals.csv that is wrong
 */
export async function studyDay(
  view: StudyView,
  findings: StudyFindings = studyFindings(view),
  windowMin = defaultWindowMin,
): Promise<StudyDay> {
  const feederIds = view.places.feeders.map(({ feederId }) => feederId);
  return dayOf(view, findings, await studyArrivals(view.study, feederIds), windowMin);
}

/** As `studyDay`, of arrivals that were read already. */
export function dayOf(
  view: StudyView,
  findings: StudyFindings,
  arrivals: readonly Arrival[],
  windowMin = defaultWindowMin,
): StudyDay {
  const { study, places } = view;
  const { timeZone } = study.settings.hive;
  const recordings = allRecordings(study.store);
  const vertical = study.settings.comb.orientation === 'vertical';
  const dances = dayDanceRows(findings, {
    begging: placedSounds(study.store, 'begging'),
    vertical,
    hourOf: (finding) => hourOfDance(finding, timeZone),
  });
  const spans = recordings.flatMap((recording) => spanOf(recording, timeZone) ?? []);
  const marks = new Set(places.feeders.flatMap(({ paintMark }) => paintMark ?? []));
  const long = dances.filter(({ dance_duration_s }) => dance_duration_s > longestDanceS).length;
  return {
    dances,
    hours: dayHourRows(dances, spans),
    arrivals: arrivalLatencies(arrivals, findings.dances, windowMin, marks),
    clock: clockFindings(findings, siteOf(study.settings), vertical),
    unclocked: recordings.length - spans.length,
    cautions:
      long === 0
        ? []
        : [`${long} dances last longer than three minutes: they may be several dances taken for one.`],
    windowMin,
  };
}

/** Hour of the day at the middle of a dance: by the hive's time zone, else as the clock of the recording says. */
function hourOfDance({ dance, instant }: DanceFinding, timeZone: string | null): number | null {
  if (instant !== null && timeZone !== null) return hourIn(instant, timeZone);
  const hour = clockHour(dance.startTime);
  return hour === null ? null : (hour + (dance.endS - dance.startS) / 7200) % 24;
}

function spanOf({ startTime, durationS }: StoredRecording, timeZone: string | null): ClockSpan | null {
  if (startTime === null) return null;
  const reading = instantOf(startTime, timeZone);
  const hour = reading.ok && timeZone !== null ? hourIn(reading.instant, timeZone) : clockHour(startTime);
  return hour === null ? null : { startHour: hour, durationS };
}

function hourIn(instant: number, zone: string): number {
  const { hour, minute, second } = DateTime.fromMillis(instant, { zone });
  return hour + minute / 60 + second / 3600;
}

/** Hour, with its fraction, that a clock time shows. */
function clockHour(time: string | null): number | null {
  const [, hour, minute, second] = /T(\d\d):(\d\d):(\d\d)/.exec(time ?? '') ?? [];
  return hour === undefined ? null : Number(hour) + Number(minute) / 60 + Number(second) / 3600;
}
