import { innerRuns } from './detection-tables.ts';
import { runsOfDance, soundsWithin } from './store/queries.ts';
import { publicSound, type StoredDance, type StoredSound } from './store/rows.ts';
import { danceById } from './store/state.ts';
import { type RunInDance, runsInDance } from './study-dances.ts';
import type { Dance, WholeDanceRow } from './study-schemas.ts';
import { listDancesGently, partInView, type StudyView, soundInView } from './study-view.ts';
import { runsOfPart, type WholeDance, wholeDance, wholeDanceRows } from './whole-dances.ts';

/**
 * Dances that have a run left, by recording and time, those that go on across recordings as one; of one recording,
 * those of which it holds a part. Others have their turn in between.
 */
export async function listDancesInHand(view: StudyView, recordingId?: number): Promise<WholeDanceRow[]> {
  const parts = await listDancesGently(view, recordingId);
  if (!view.study.store.open) return [];
  const [links, goingOn] = [view.links(), view.goingOn()];
  const seen = new Set<string>();
  return parts.flatMap((part) => {
    if (!links.has(part.id) && !goingOn.has(part.id)) return rowOf(view, { dance: part, parts: [part] });
    const whole = wholeDance(view, part.id);
    if (whole === null || seen.has(whole.dance.id)) return [];
    seen.add(whole.dance.id);
    return rowOf(view, whole);
  });
}

function rowOf(view: StudyView, { dance, parts }: WholeDance): WholeDanceRow {
  return { ...dance, parts: parts.length === 1 ? [] : parts.map((part) => partInView(view, part)) };
}

const AROUND_S = 2;

/**
 * The whole dance that a dance is, or is a part of, with its runs, as the ladder draws it; null when there is no such
 * dance.
 */
export function danceInHand(view: StudyView, id: string) {
  const { store } = view.study;
  const stored = danceById(store, id);
  if (stored === null) return null;
  const whole = wholeDance(view, id) ?? withoutRuns(stored, runsOfDance(store, id));
  const runs = whole.parts.flatMap((part) => runsOfDance(store, part.id));
  const byId = new Map(runs.map((run) => [run.id, run]));
  return {
    dance: rowOf(view, whole),
    runs: runsInWhole(view, whole).map(({ id: runId, ...run }) => ({
      ...soundInView(view, byId.get(runId)!),
      ...run,
    })),
    calls: whole.parts.flatMap((part) => callsNear(view, part)),
  };
}

/** Runs on one clock, that none is odd or used whose length the cut between two recordings took. */
function runsInWhole(view: StudyView, { parts }: WholeDance): RunInDance[] {
  const { store } = view.study;
  if (parts.length === 1) return runsInDance(runsOfDance(store, parts[0]!.id));
  const rows = wholeDanceRows(view, parts);
  const used = new Set(innerRuns(rows).flatMap((row) => (row.duration_s === null ? [] : [row.train_id])));
  const placed = parts.flatMap((_, k) => runsOfPart(view, parts, k));
  const cut = new Set(placed.filter((one) => one.cut).map(({ run }) => run.id));
  const onOneClock = placed.map(({ run, shiftS }) => ({
    ...run,
    startS: run.startS + shiftS,
    endS: run.endS + shiftS,
  }));
  return runsInDance(onOneClock, cut).map((run) => ({ ...run, used: used.has(run.id) }));
}

function callsNear({ study: { store } }: StudyView, { recordingId, channel, startS, endS }: Dance) {
  const near = soundsWithin(store, recordingId, channel, Math.max(0, startS - AROUND_S), endS + AROUND_S);
  return near.filter(({ kind }) => kind !== 'train').map(publicSound);
}

/** A dance whose runs are all rejected can still be looked at, to take that back. */
function withoutRuns({ feederSet, ...stored }: StoredDance, runs: readonly StoredSound[]): WholeDance {
  const dance: Dance = {
    ...stored,
    feederSource: feederSet ? 'reviewer' : null,
    feederConflict: [],
    feederDistanceM: null,
    startS: Math.min(...runs.map((run) => run.startS), Number.MAX_SAFE_INTEGER),
    endS: Math.max(...runs.map((run) => run.endS), 0),
    startTime: null,
    runCount: 0,
    usedRuns: 0,
    reviewedRuns: 0,
    meanDurationS: null,
    sdDurationS: null,
    meanReturnS: null,
    circuitsPer15s: null,
    carrierHz: null,
  };
  return { dance, parts: [dance] };
}
