import { isCut } from './dance-links.ts';
import type { ObservedDance } from './observations.ts';
import { observationsOfDances } from './observations-of-dances.ts';
import { clockStepS } from './sessions.ts';
import { runsOfDance } from './store/queries.ts';
import { recordingById } from './store/recordings.ts';
import type { StoredDance, StoredSound } from './store/rows.ts';
import { danceById } from './store/state.ts';
import { danceOfRows, trainRowOf } from './study-dances.ts';
import type { Dance } from './study-schemas.ts';
import { danceInView, listDances, type StudyView } from './study-view.ts';
import type { TrainRow } from './tables.ts';

/** A dance from its first run to its last, though it may lie in several recordings. */
export interface WholeDance {
  /** Under the id of its first part, times from the start of that part's recording. */
  readonly dance: Dance;
  /** What of it lies in each recording, in order; one where it lies in one. */
  readonly parts: readonly Dance[];
}

/** All dances that have a run left, by recording and time, those that go on across recordings as one. */
export function listWholeDances(view: StudyView): WholeDance[] {
  const links = view.links();
  const parts = listDances(view);
  if (links.size === 0) return parts.map((dance) => ({ dance, parts: [dance] }));
  const left = new Set(parts.map(({ id }) => id));
  const firstOf = (id: string): string => {
    const before = links.get(id)?.before;
    return before !== undefined && left.has(before) ? firstOf(before) : id;
  };
  const byFirst = new Map<string, Dance[]>();
  for (const part of parts) {
    const first = firstOf(part.id);
    const own = byFirst.get(first);
    if (own === undefined) byFirst.set(first, [part]);
    else own.push(part);
  }
  return [...byFirst.values()].map((own): WholeDance => {
    const ordered = inOrder(view, own);
    return { dance: ordered.length === 1 ? ordered[0]! : summedUp(view, ordered), parts: ordered };
  });
}

/** The whole dance that a dance is, or is a part of; null when there is none, or no run of it is left. */
export function wholeDance(view: StudyView, id: string): WholeDance | null {
  const [links, after] = [view.links(), view.goingOn()];
  const asked = danceInView(view, id);
  if (asked === null) return null;
  const parts = [asked];
  for (let before = links.get(id)?.before; before !== undefined; before = links.get(before)?.before) {
    const part = danceInView(view, before);
    if (part === null) break;
    parts.unshift(part);
  }
  for (let next = after.get(id); next !== undefined; next = after.get(next)) {
    const part = danceInView(view, next);
    if (part === null) break;
    parts.push(part);
  }
  return { dance: parts.length === 1 ? asked : summedUp(view, parts), parts };
}

/** Parts from the first on: each goes on from the one before it. */
function inOrder(view: StudyView, parts: readonly Dance[]): Dance[] {
  const links = view.links();
  const depth = (id: string): number => {
    const before = links.get(id)?.before;
    return before === undefined ? 0 : 1 + depth(before);
  };
  return [...parts].sort((a, b) => depth(a.id) - depth(b.id));
}

function summedUp(view: StudyView, parts: readonly Dance[]): Dance {
  const { store } = view.study;
  const [first, ...others] = parts.map(({ id }) => danceById(store, id)!);
  const noted = others.reduce(withNotesOf, first!);
  const reviewedRuns = parts.reduce((sum, part) => sum + part.reviewedRuns, 0);
  return danceOfRows(noted, wholeDanceRows(view, parts), reviewedRuns, view.around(first!.recordingId))!;
}

/** What is noted of one part is noted of the dance. */
function withNotesOf(dance: StoredDance, part: StoredDance): StoredDance {
  const { feederId, feederSet } = dance.feederSet ? dance : part;
  return {
    ...dance,
    beeId: dance.beeId ?? part.beeId,
    paintMark: dance.paintMark ?? part.paintMark,
    feederId,
    feederSet,
    treatment: dance.treatment ?? part.treatment,
    combAngleDeg: dance.combAngleDeg ?? part.combAngleDeg,
    note: dance.note ?? part.note,
  };
}

/**
 * Rows of the runs of a dance that are not rejected, times from the start of the first part's recording. A run that
 * the edge between two parts cut has no duration; where its halves lie in both, it is one row.
 */
export function wholeDanceRows(view: StudyView, parts: readonly Dance[]): TrainRow[] {
  const rows: TrainRow[] = [];
  for (const k of parts.keys()) {
    const runs = runsOfPart(view, parts, k).filter(({ run }) => run.status !== 'rejected');
    for (const [n, { run, shiftS, cut }] of runs.entries()) {
      const row = { ...shiftedRow(run, shiftS, cut), dance_id: parts[0]!.id };
      const before = rows.at(-1);
      if (cut && n === 0 && k > 0 && before !== undefined && isOtherHalf(before, row)) {
        rows[rows.length - 1] = { ...before, end_s: row.end_s };
      } else rows.push(row);
    }
  }
  return rows;
}

/** A run of a part, with what makes its times those of the whole dance, and whether the seam of two parts cut it. */
interface PlacedRun {
  readonly run: StoredSound;
  readonly shiftS: number;
  readonly cut: boolean;
}

/** Runs of the k-th part of a dance, rejected ones too. */
export function runsOfPart(view: StudyView, parts: readonly Dance[], k: number): PlacedRun[] {
  const { store } = view.study;
  const links = view.links();
  const recording = recordingById(store, parts[k]!.recordingId)!;
  const shiftS = parts.slice(1, k + 1).reduce((sum, { id }) => sum + links.get(id)!.shiftS, 0);
  const runs = runsOfDance(store, parts[k]!.id);
  const kept = runs.filter(({ status }) => status !== 'rejected');
  const atSeam = new Set([...(k > 0 ? [kept[0]] : []), ...(k < parts.length - 1 ? [kept.at(-1)] : [])]);
  return runs.map((run) => ({ run, shiftS, cut: atSeam.has(run) && isCut(run, recording) }));
}

/** Halves of one run are no farther apart than the clocks may be wrong. */
function isOtherHalf(before: TrainRow, row: TrainRow): boolean {
  return before.duration_s === null && row.start_s - before.end_s < clockStepS;
}

function shiftedRow(run: StoredSound, shiftS: number, cut: boolean): TrainRow {
  // By its number: recordings in two folders may have one name.
  const row = trainRowOf(run, String(run.recordingId), null);
  return {
    ...row,
    start_s: row.start_s + shiftS,
    end_s: row.end_s + shiftS,
    duration_s: cut ? null : row.duration_s,
  };
}

/**
 * A dance as calibrating and estimating take it: the runs of all its parts in order, with the feeder's distance.
 *
 * @returns null when no run is left
 */
export function observedDance(view: StudyView, { dance, parts }: WholeDance): ObservedDance | null {
  const note = { beeId: dance.beeId, distanceM: dance.feederDistanceM, treatment: dance.treatment };
  const rows = observationsOfDances(wholeDanceRows(view, parts), new Map([[dance.id, note]]));
  if (rows.length === 0) return null;
  return {
    danceId: dance.id,
    ...note,
    durationsS: rows.map((row) => row.duration_s),
    circuitsPer15s: rows.map((row) => row.circuits_per_15s),
  };
}
