import { describe, expect, test } from 'vitest';
import { danceInHand } from '../../src/study/dance-in-hand.ts';
import { undoEdit } from '../../src/study/store/edit.ts';
import type { Store } from '../../src/study/store/open-store.ts';
import { soundById } from '../../src/study/store/state.ts';
import type { Edit } from '../../src/study/study-schemas.ts';
import { danceInView, listDances, studyView } from '../../src/study/study-view.ts';
import { call, detect, edit, knownRecording, now, studyFolders, train, twoDances } from './made-study.ts';

const newStudy = studyFolders();
const noPlaces = { feeders: [], openings: [] };

async function reviewed(name: string) {
  const study = await newStudy(name);
  detect(study.store, knownRecording(study.store).id, twoDances);
  return { study, store: study.store, view: studyView(study, noPlaces) };
}

const refused = (store: Store, given: Edit, words: RegExp) => {
  const before = store.prepare('SELECT count(*) FROM events').pluck().get();
  expect(() => edit(store, given)).toThrow(words);
  expect(store.prepare('SELECT count(*) FROM events').pluck().get()).toBe(before);
};

describe('edits', () => {
  test('moving an end accepts the train and counts its pulses anew', async () => {
    const { store } = await reviewed('times');
    const target = now(store, 'hive-t0001');
    edit(store, { kind: 'times', target, startS: 10, endS: 10.5 });
    // Pulses every 0.06 s from 10 s on: 10.00 to 10.48.
    const moved = { startS: 10, endS: 10.5, status: 'accepted', pulseCount: 9, edited: true };
    expect(soundById(store, 'hive-t0001')).toMatchObject(moved);
    const again = now(store, 'hive-t0001');
    edit(store, { kind: 'times', target: again, startS: 10, endS: 11 });
    expect(soundById(store, 'hive-t0001')).toMatchObject({ pulseCount: 16 });
    const latest = now(store, 'hive-t0001');
    const words = /an end at least 0\.01 s after the start, both within the recording's 600/;
    refused(store, { kind: 'times', target: latest, startS: 11, endS: 10 }, words);
    refused(store, { kind: 'times', target: latest, startS: 10, endS: 601 }, words);
  });

  test('a train made a call leaves its dance', async () => {
    const { store, view } = await reviewed('kinds');
    expect(danceInView(view, 'hive-d0001')).toMatchObject({ runCount: 5 });
    edit(store, { kind: 'sound-kind', targets: [now(store, 'hive-t0002')], soundKind: 'begging' });
    expect(soundById(store, 'hive-t0002')).toMatchObject({
      kind: 'begging',
      danceId: null,
      status: 'accepted',
    });
    expect(danceInView(view, 'hive-d0001')).toMatchObject({ runCount: 4, reviewedRuns: 0 });
    edit(store, { kind: 'sound-kind', targets: [now(store, 'hive-c0001')], soundKind: 'train' });
    expect(soundById(store, 'hive-c0001')).toMatchObject({ kind: 'train', danceId: null });
  });

  test('through all kinds and back a train is in its dance again', async () => {
    const { store, view } = await reviewed('kinds-round');
    for (const soundKind of ['begging', 'piping', 'other', 'train'] as const) {
      edit(store, { kind: 'sound-kind', targets: [now(store, 'hive-t0002')], soundKind });
    }
    expect(soundById(store, 'hive-t0002')).toMatchObject({ kind: 'train', danceId: 'hive-d0001' });
    expect(danceInView(view, 'hive-d0001')).toMatchObject({ runCount: 5 });
    // Taken out of its dance on purpose it stays out.
    edit(store, { kind: 'assign', targets: [now(store, 'hive-t0002')], danceId: null });
    edit(store, { kind: 'sound-kind', targets: [now(store, 'hive-t0002')], soundKind: 'train' });
    expect(soundById(store, 'hive-t0002')).toMatchObject({ danceId: null });
  });

  test('a split gives each part its pulses, and joining them gives the whole back', async () => {
    const { store } = await reviewed('split');
    const { targets } = edit(store, {
      kind: 'split',
      target: now(store, 'hive-t0001'),
      firstEndS: 10.5,
      secondStartS: 10.53,
    });
    expect(targets).toEqual(['hive-t0001', 'hive-t0010']);
    const [first, second] = targets.map((id) => soundById(store, id));
    expect(first).toMatchObject({ startS: 10, endS: 10.5, pulseCount: 9, danceId: 'hive-d0001' });
    expect(second).toMatchObject({ startS: 10.53, endS: 11, pulseCount: 7, danceId: 'hive-d0001' });
    const parts = targets.map((id) => now(store, id));
    edit(store, { kind: 'join', targets: [...parts].reverse() });
    expect(soundById(store, 'hive-t0001')).toMatchObject({ startS: 10, endS: 11, pulseCount: 16 });
    expect(soundById(store, 'hive-t0010')).toBeNull();
    undoEdit(store, { reviewer: 'ada' });
    expect(soundById(store, 'hive-t0010')).toMatchObject({ startS: 10.53, pulseCount: 7 });
    const target = now(store, 'hive-t0002');
    refused(store, { kind: 'split', target, firstEndS: 15, secondStartS: 15 }, /two times in order within/);
    refused(
      store,
      { kind: 'split', target, firstEndS: 13.007, secondStartS: 13.007 },
      /found a split at 13\.007 and 13\.007 s; wanted two times .* each part at least 0\.01 s/,
    );
    const odd = [now(store, 'hive-t0002'), now(store, 'hive-c0001')];
    refused(store, { kind: 'join', targets: odd }, /sounds of one kind/);
  });

  test('an added train counts in its dance at once', async () => {
    const { store, view } = await reviewed('add');
    const add = {
      kind: 'add',
      recordingId: 1,
      channel: 1,
      soundKind: 'train',
      startS: 25,
      endS: 26,
    } as const;
    const { targets } = edit(store, { ...add, danceId: 'hive-d0001' });
    expect(soundById(store, targets[0]!)).toMatchObject({
      status: 'added',
      pulseCount: null,
      confidence: null,
    });
    expect(danceInView(view, 'hive-d0001')).toMatchObject({ runCount: 6, reviewedRuns: 1, endS: 26 });
    edit(store, { kind: 'reject', targets: [now(store, targets[0]!)] });
    edit(store, { kind: 'accept', targets: [now(store, targets[0]!)] });
    expect(soundById(store, targets[0]!)).toMatchObject({ status: 'added' });
    refused(store, { ...add, channel: 3, danceId: null }, /a recording and channel of the study/);
    refused(store, { ...add, soundKind: 'piping', danceId: 'hive-d0001' }, /only trains in dances/);
    refused(store, { ...add, channel: 2, danceId: 'hive-d0001' }, /a dance on the same channel/);
    refused(store, { ...add, danceId: 'hive-d0099' }, /no dance hive-d0099/);
  });

  test('trains go to another dance, a new one or none; calls to none', async () => {
    const { store, view } = await reviewed('assign');
    edit(store, { kind: 'assign', targets: [now(store, 'hive-t0005')], danceId: 'hive-d0002' });
    expect(danceInView(view, 'hive-d0002')).toMatchObject({ runCount: 5, startS: 22 });
    const trains = ['hive-t0001', 'hive-t0002'].map((id) => now(store, id));
    const { targets } = edit(store, { kind: 'assign', targets: trains, danceId: 'new' });
    expect(targets).toContain('hive-d0003');
    expect(danceInView(view, 'hive-d0003')).toMatchObject({ runCount: 2 });
    edit(store, { kind: 'assign', targets: [now(store, 'hive-t0003')], danceId: null });
    expect(danceInView(view, 'hive-d0001')).toMatchObject({ runCount: 1 });
    refused(
      store,
      { kind: 'assign', targets: [now(store, 'hive-c0001')], danceId: 'new' },
      /only trains in dances/,
    );
  });

  test('the ladder: used runs, odd runs, return phases, calls between', async () => {
    const { store, view } = await reviewed('ladder');
    edit(store, { kind: 'times', target: now(store, 'hive-t0003'), startS: 16, endS: 18.5 });
    const { dance, runs, calls } = danceInHand(view, 'hive-d0001')!;
    expect(runs.map(({ used }) => used)).toEqual([false, true, true, true, false]);
    expect(runs.map(({ odd }) => odd)).toEqual([false, false, true, false, false]);
    expect(runs.map(({ returnS }) => returnS)).toEqual([2, 2, 0.5, 2, null]);
    expect(calls.map(({ id }) => id)).toEqual(['hive-c0001']);
    // Inner runs: 1, 2.5 and 1 s; circuits of 3 s.
    expect(dance).toMatchObject({ meanDurationS: 1.5, usedRuns: 3, circuitsPer15s: 5 });
    edit(store, { kind: 'reject', targets: [now(store, 'hive-t0003')] });
    const left = danceInHand(view, 'hive-d0001')!;
    expect(left.runs.map(({ used }) => used)).toEqual([false, true, false, true, false]);
    expect(left.dance).toMatchObject({ meanDurationS: 1, runCount: 4 });
  });

  test('the list of dances is the same after any edit as if nothing had been kept of the one before', async () => {
    const { study, store, view } = await reviewed('listed');
    const edits: (() => Edit)[] = [
      () => ({ kind: 'reject', targets: [now(store, 'hive-t0002')] }),
      () => ({ kind: 'assign', targets: [now(store, 'hive-t0005')], danceId: 'hive-d0002' }),
      () => ({ kind: 'assign', targets: [now(store, 'hive-t0006')], danceId: null }),
      () => ({ kind: 'sound-kind', targets: [now(store, 'hive-t0003')], soundKind: 'other' }),
      () => ({ kind: 'dance', target: { id: 'hive-d0001', version: 1 }, changes: { beeId: 'red-1' } }),
      () => ({ kind: 'join', targets: [now(store, 'hive-t0008'), now(store, 'hive-t0009')] }),
    ];
    const same = () => expect(listDances(view)).toEqual(listDances(studyView(study, noPlaces)));
    for (const make of edits) {
      edit(store, make());
      same();
    }
    for (const _ of edits) {
      undoEdit(store, { reviewer: 'ada' });
      same();
    }
    expect(listDances(view).map(({ runCount }) => runCount)).toEqual([5, 4]);
  });

  test('a dance of which all runs are rejected is no longer listed, and comes back', async () => {
    const { store, view } = await reviewed('emptied');
    const targets = [6, 7, 8, 9].map((k) => now(store, `hive-t000${k}`));
    edit(store, { kind: 'reject', targets });
    expect(danceInView(view, 'hive-d0002')).toBeNull();
    expect(danceInHand(view, 'hive-d0002')!.runs).toHaveLength(4);
    undoEdit(store, { reviewer: 'ada' });
    expect(danceInView(view, 'hive-d0002')).toMatchObject({ runCount: 4 });
  });
});

describe('detecting again', () => {
  test('reviewed rows stay as they are; others become what was found; ids go on', async () => {
    const { study, store, view } = await reviewed('again');
    edit(store, { kind: 'times', target: now(store, 'hive-t0001'), startS: 10.1, endS: 10.9 });
    edit(store, { kind: 'reject', targets: [now(store, 'hive-t0002')] });
    edit(store, { kind: 'sound-kind', targets: [now(store, 'hive-c0001')], soundKind: 'train' });
    edit(store, {
      kind: 'add',
      recordingId: 1,
      channel: 1,
      soundKind: 'train',
      startS: 30,
      endS: 31,
      danceId: 'hive-d0001',
    });
    edit(store, {
      kind: 'dance',
      target: { id: 'hive-d0002', version: 1 },
      changes: { beeId: 'blue-2', feederId: 'reed' },
    });
    const before = ['hive-t0001', 'hive-t0002', 'hive-c0001', 'hive-t0010'].map((id) => soundById(store, id));
    const { changes } = detect(
      store,
      1,
      [
        ...[0, 1, 2, 3].map((k) => train(10.02 + 3 * k, 11.02 + 3 * k, 7)),
        ...[0, 1, 2, 3, 4].map((k) => train(100 + 3 * k, 100.62 + 3 * k, 3, { carrierHz: 300 })),
        call(12.2, 12.35),
      ],
      'second',
    );
    // Kept: moved, rejected, changed in kind, added. Gone: the fifth run of the first dance, the second call.
    expect(changes).toEqual({ kept: 4, same: 6, new: 1, gone: 2 });
    expect(
      ['hive-t0001', 'hive-t0002', 'hive-c0001', 'hive-t0010'].map((id) => soundById(store, id)),
    ).toEqual(before);
    expect(soundById(store, 'hive-t0003')).toMatchObject({ startS: 16.02, detectionId: 2 });
    expect(soundById(store, 'hive-t0005')).toBeNull();
    expect(danceInView(view, 'hive-d0001')).toMatchObject({ runCount: 4 });
    expect(danceInView(view, 'hive-d0002')).toMatchObject({ runCount: 5, beeId: 'blue-2', feederId: 'reed' });
    undoEdit(store, { reviewer: 'ada' });
    expect(danceInView(studyView(study, noPlaces), 'hive-d0002')).toMatchObject({ beeId: null });
  });

  test('another bee’s train at the same time is not taken for a reviewed one', async () => {
    const { store } = await reviewed('two-bees');
    edit(store, { kind: 'reject', targets: [now(store, 'hive-t0001')] });
    const { changes } = detect(store, 1, [...twoDances, train(10.05, 11, 5, { carrierHz: 340 })], 'second');
    expect(changes).toEqual({ kept: 1, same: twoDances.length - 1, new: 1, gone: 0 });
  });

  test('dances that nobody noted anything of go with their last train', async () => {
    const { store } = await reviewed('dances-gone');
    detect(store, 1, twoDances.slice(0, 5), 'second');
    const left = store.prepare('SELECT dance_id FROM dances').pluck().all();
    expect(left).toEqual(['hive-d0001']);
  });
});
