import { basename, extname } from 'node:path';
import { DateTime } from 'luxon';
import { instantOf } from '../bearing/local-time.ts';

/** What of a recording tells which session it belongs to. */
export interface TimedRecording {
  /** The file, with or without its folder. */
  readonly path: string;
  /** ISO 8601, with or without offset; null when unknown. */
  readonly startTime: string | null;
  readonly durationS: number;
  readonly sampleRateHz: number;
  readonly channelCount: number;
}

/** Where one file of a session ends and the next begins. */
export interface Joint {
  readonly before: string;
  readonly after: string;
  /** Time without sound between them, s; below 0 where both hold the same time. */
  readonly gapS: number;
}

/** Files of one recorder that follow one another on the clock. */
export interface Session {
  readonly recordings: readonly string[];
  readonly startTime: string;
  /** From the start of the first file to the end of the last, s. */
  readonly spanS: number;
  readonly joints: readonly Joint[];
}

// A recorder that starts again later than this has begun another session.
const mostGapS = 600;
/** File names and bext chunks tell the start to the second. */
export const clockStepS = 1;

type Placed<R extends TimedRecording = TimedRecording> = R & { readonly beginS: number };

/** Two recordings of one recorder that follow one another, and the time without sound between them, s. */
export interface Consecutive<R extends TimedRecording> {
  readonly before: R;
  readonly after: R;
  /** Below 0 where both hold the same time. */
  readonly gapS: number;
}

/**
 * Joins recordings on the clock: those of one recorder (same name but for digits, same rate, same channels), each of
 * which begins at most 10 min after the end of those before it.
 *
 * @param zone IANA name for start times without offset; null compares such times with each other alone
 * @returns sessions of two files or more, by their start; files without a start time are in none
 */
export function sessionsOf(recordings: readonly TimedRecording[], zone: string | null): Session[] {
  return placedSessions(recordings, zone)
    .filter((session) => session.length > 1)
    .map(sessionOf);
}

/** The recordings of a session that follow one another, session by session, as `sessionsOf` joins them. */
export function consecutiveRecordings<R extends TimedRecording>(
  recordings: readonly R[],
  zone: string | null,
): Consecutive<R>[] {
  return placedSessions(recordings, zone).flatMap(consecutiveOf);
}

function placedSessions<R extends TimedRecording>(
  recordings: readonly R[],
  zone: string | null,
): Placed<R>[][] {
  const byRecorder = new Map<string, Placed<R>[]>();
  for (const recording of recordings) {
    const placed = placeOf(recording, zone);
    if (placed === null) continue;
    const key = JSON.stringify([
      basename(recording.path, extname(recording.path)).replaceAll(/\d+/g, '#'),
      recording.sampleRateHz,
      recording.channelCount,
      placed.kind,
    ]);
    const others = byRecorder.get(key);
    const one = { ...recording, beginS: placed.beginS };
    if (others === undefined) byRecorder.set(key, [one]);
    else others.push(one);
  }
  return [...byRecorder.values()].flatMap(cutIntoSessions).sort((a, b) => a[0]!.beginS - b[0]!.beginS);
}

/** Seconds on one clock for all times with an offset or a zone, on another for those that have neither. */
function placeOf({ startTime }: TimedRecording, zone: string | null) {
  if (startTime === null) return null;
  const reading = instantOf(startTime, zone);
  if (reading.ok) return { kind: 'instant', beginS: reading.instant / 1000 };
  // A time that does not exist, or exists twice, is no place on the clock.
  if (zone !== null) return null;
  const wallClock = Date.parse(`${startTime}Z`);
  return Number.isNaN(wallClock) ? null : { kind: 'wall clock', beginS: wallClock / 1000 };
}

function cutIntoSessions<R extends TimedRecording>(recordings: Placed<R>[]): Placed<R>[][] {
  const inOrder = [...recordings].sort((a, b) => a.beginS - b.beginS || (a.path < b.path ? -1 : 1));
  const sessions: Placed<R>[][] = [];
  let endS = -Infinity;
  for (const recording of inOrder) {
    if (recording.beginS - endS > mostGapS) sessions.push([]);
    sessions.at(-1)!.push(recording);
    endS = Math.max(endS, recording.beginS + recording.durationS);
  }
  return sessions;
}

const endOf = (one: Placed) => one.beginS + one.durationS;

function consecutiveOf<R extends TimedRecording>(recordings: readonly Placed<R>[]): Consecutive<Placed<R>>[] {
  let last = recordings[0]!;
  return recordings.slice(1).map((after) => {
    const before = last;
    if (endOf(after) > endOf(last)) last = after;
    return { before, after, gapS: Number((after.beginS - endOf(before)).toFixed(3)) };
  });
}

function sessionOf(recordings: readonly Placed[]): Session {
  const first = recordings[0]!;
  const endS = Math.max(...recordings.map(endOf));
  return {
    recordings: recordings.map(({ path }) => basename(path)),
    startTime: first.startTime!,
    spanS: Number((endS - first.beginS).toFixed(3)),
    joints: consecutiveOf(recordings).map(({ before, after, gapS }) => ({
      before: basename(before.path),
      after: basename(after.path),
      gapS,
    })),
  };
}

/** One line for the gaps and one for the overlaps of each session; those within a second are the clock's own step. */
export function sessionNotes(sessions: readonly Session[]): string[] {
  return sessions.flatMap((session) => {
    const head = `session of ${session.recordings.length} recordings from ${session.startTime}`;
    const gaps = session.joints.filter(({ gapS }) => gapS > clockStepS);
    const overlaps = session.joints.filter(({ gapS }) => gapS < -clockStepS);
    const told = (joints: readonly Joint[], name: string) => {
      const sizes = joints.map(({ gapS }) => Math.abs(gapS));
      const largest = joints[sizes.indexOf(Math.max(...sizes))]!;
      const between = `${largest.before} and ${largest.after}`;
      const longest = `${Math.max(...sizes).toFixed(1)} s between ${between}`;
      if (joints.length === 1) return `${head}: one ${name}, ${longest}`;
      const sumS = sizes.reduce((sum, size) => sum + size, 0);
      return `${head}: ${joints.length} ${name}s, ${sumS.toFixed(1)} s together, the longest ${longest}`;
    };
    return [
      ...(gaps.length > 0
        ? [
            `${told(gaps, 'gap')}; dances that go on across are cut in two (a study joins them where the gap is short)`,
          ]
        : []),
      ...(overlaps.length > 0 ? [`${told(overlaps, 'overlap')}; runs in it are counted twice`] : []),
    ];
  });
}

/**
 * What is wrong with a start time where the clocks change: that it does not exist or exists twice in the zone, or
 * that the clocks change before the recording ends. Empty where the zone is not known.
 */
export function clockNotes(
  { startTime, durationS }: Pick<TimedRecording, 'startTime' | 'durationS'>,
  zone: string | null,
): string[] {
  if (startTime === null || zone === null) return [];
  const begin = instantOf(startTime, zone);
  if (!begin.ok) {
    return /does not exist|exists twice/.test(begin.found)
      ? [`start: ${begin.found}; give the start with its offset from UTC, in the file's name or with --start`]
      : [];
  }
  const hasOffset = /(Z|[+-]\d\d:\d\d)$/.test(startTime);
  const atEnd = DateTime.fromMillis(begin.instant + 1000 * durationS, { zone }).offset;
  if (hasOffset || atEnd === begin.offsetMinutes) return [];
  return [
    `the clocks change in ${zone} while it lasts: clock times after that are told as if they did not; ` +
      "give the start with its offset from UTC, in the file's name or with --start",
  ];
}
