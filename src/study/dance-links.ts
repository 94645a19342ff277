import { gatherDances } from '../dance/gather-dances.ts';
import { clockStepS, consecutiveRecordings } from './sessions.ts';
import type { Store } from './store/open-store.ts';
import { soundsWithin } from './store/queries.ts';
import { allRecordings, type StoredRecording } from './store/recordings.ts';
import type { StoredDance, StoredSound } from './store/rows.ts';
import { danceById } from './store/state.ts';

/** The dance of an earlier recording that a dance goes on from. */
export interface DanceLink {
  readonly before: string;
  /** Added to a time in the recording of the later part, s, it is one in that of the earlier. */
  readonly shiftS: number;
}

/** How much of the end of one recording, and of the beginning of the next, tells which dances go on. */
const LOOKED_AT_S = 60;
/** A run that ends, or begins, within so many beats of the recording's edge was cut by it. */
const CUT_BEATS = 2;
const USUAL_BEAT_S = 1 / 15;

/**
 * Dances that go on across consecutive recordings of one recorder: a dance at the beginning of one goes on from a
 * dance at the end of that before where gathering, given the runs of both on one clock, puts them together, by the
 * same carrier, beat, duration and return phase as within a recording. Made of the rows as they are, so that it does
 * not matter in which order, by how many, or how often the recordings were searched. Dances of which reviewers noted
 * different bees, marks, feeders or treatments are not linked.
 *
 * @param zone as for `sessionsOf`
 * @returns by the id of the later part
 */
export function danceLinks(store: Store, zone: string | null): ReadonlyMap<string, DanceLink> {
  return new Map([...linksBySeam(store, zone).values()].flatMap((links) => [...links]));
}

/** Links across each seam of two recordings, by the recordings and their clocks. */
export type LinksBySeam = ReadonlyMap<string, ReadonlyMap<string, DanceLink>>;

/**
 * As `danceLinks`, by seam.
 *
 * @param known links made before, which hold still where neither recording is among those touched since
 */
export function linksBySeam(
  store: Store,
  zone: string | null,
  known: LinksBySeam = new Map(),
  touched: ReadonlySet<number> = new Set(),
): LinksBySeam {
  const seams = new Map<string, ReadonlyMap<string, DanceLink>>();
  for (const seam of consecutiveRecordings(allRecordings(store), zone)) {
    const { before, after, gapS } = seam;
    // Where two recordings hold the same time, their runs are the same runs.
    if (gapS < -clockStepS || gapS > LOOKED_AT_S) continue;
    const errorsS = clockErrors(before, after, gapS);
    const clocks = [before, after].flatMap(({ id, durationS, channelCount }) => [
      id,
      durationS,
      channelCount,
    ]);
    const key = JSON.stringify([clocks, gapS, errorsS]);
    const still = touched.has(before.id) || touched.has(after.id) ? undefined : known.get(key);
    seams.set(key, still ?? linksAcross(store, seam, errorsS));
  }
  return seams;
}

type Seam = ReturnType<typeof consecutiveRecordings<StoredRecording>>[number];

function linksAcross(store: Store, { before, after, gapS }: Seam, errorsS: readonly number[]) {
  const links = new Map<string, DanceLink>();
  const shiftS = before.durationS + Math.max(0, gapS);
  for (let channel = 1; channel <= Math.min(before.channelCount, after.channelCount); channel++) {
    const ending = wholeRuns(
      before,
      soundsWithin(store, before.id, channel, before.durationS - LOOKED_AT_S, Infinity),
    );
    const beginning = wholeRuns(after, soundsWithin(store, after.id, channel, 0, LOOKED_AT_S));
    for (const [later, earlier] of goingOn(ending, beginning, shiftS, errorsS)) {
      if (agree(danceById(store, earlier)!, danceById(store, later)!))
        links.set(later, { before: earlier, shiftS });
    }
  }
  return links;
}

/** By how much the gap may be another than the clocks say, s, the likelier first: start times are of whole seconds. */
function clockErrors(
  { startTime: one }: StoredRecording,
  { startTime: other }: StoredRecording,
  gapS: number,
): number[] {
  const exact = [one, other].every((time) => /\.\d*[1-9]/.test(time ?? ''));
  return exact
    ? [0]
    : [0, 0.5, -0.5, 1, -1].filter((errorS) => errorS === 0 || Math.max(0, gapS) + errorS >= 0);
}

type MeasuredRun = StoredSound & {
  readonly danceId: string;
  readonly carrierHz: number;
  readonly pulseRateHz: number;
};

/** Runs of dances that were measured and that the edge of the recording did not cut. */
function wholeRuns(recording: StoredRecording, sounds: readonly StoredSound[]): MeasuredRun[] {
  return sounds.filter(
    (sound): sound is MeasuredRun =>
      sound.kind === 'train' &&
      sound.status !== 'rejected' &&
      sound.danceId !== null &&
      sound.carrierHz !== null &&
      sound.pulseRateHz !== null &&
      !isCut(sound, recording),
  );
}

/** Whether the beginning or the end of a recording cut a run. */
export function isCut(
  { startS, endS, pulseRateHz }: Pick<StoredSound, 'startS' | 'endS' | 'pulseRateHz'>,
  { durationS }: Pick<StoredRecording, 'durationS'>,
): boolean {
  const edgeS = CUT_BEATS * (pulseRateHz === null ? USUAL_BEAT_S : 1 / pulseRateHz);
  return startS < edgeS || endS > durationS - edgeS;
}

/** Dances of the later recording with those of the earlier that they go on from, each but once. */
function goingOn(
  ending: readonly MeasuredRun[],
  beginning: readonly MeasuredRun[],
  shiftS: number,
  errorsS: readonly number[],
): Map<string, string> {
  const pairs = new Map<string, string>();
  if (ending.length === 0 || beginning.length === 0) return pairs;
  const firstOf = new Map<string, number>();
  const lastOf = new Map(ending.map(({ danceId }, index) => [danceId, index]));
  for (const [index, { danceId }] of beginning.entries())
    if (!firstOf.has(danceId)) firstOf.set(danceId, index);
  for (const errorS of errorsS) {
    const taken = new Set(pairs.values());
    const groups = gatherDances([
      ...ending.map((run) => gathered(run, 0)),
      ...beginning.map((run) => gathered(run, shiftS + errorS)),
    ]);
    for (const [later, first] of firstOf) {
      const group = groups[ending.length + first];
      const last = ending.findLastIndex((_, index) => groups[index] === group);
      const earlier = ending[last]?.danceId;
      if (earlier === undefined || lastOf.get(earlier) !== last || pairs.has(later) || taken.has(earlier))
        continue;
      pairs.set(later, earlier);
      taken.add(earlier);
    }
  }
  return pairs;
}

function gathered({ startS, endS, carrierHz, pulseRateHz }: MeasuredRun, shiftS: number) {
  return { startS: startS + shiftS, endS: endS + shiftS, carrierHz, beatS: 1 / pulseRateHz };
}

/** Whether what reviewers noted of two parts may be said of one dance. */
function agree(earlier: StoredDance, later: StoredDance): boolean {
  const alike = (key: 'beeId' | 'paintMark' | 'treatment') =>
    earlier[key] === null || later[key] === null || earlier[key] === later[key];
  const feeder = !earlier.feederSet || !later.feederSet || earlier.feederId === later.feederId;
  return feeder && alike('beeId') && alike('paintMark') && alike('treatment');
}
