import { afterEach, describe, expect, test, vi } from 'vitest';
import { applyEdit, undoEdit } from '../../src/study/store/edit.ts';
import type { Store } from '../../src/study/store/open-store.ts';
import { openStore } from '../../src/study/store/open-store.ts';
import { countsByBin, progressOf, queuedSounds, soundsWithin } from '../../src/study/store/queries.ts';
import { stateNow } from '../../src/study/store/state.ts';
import type { Progress } from '../../src/study/study-schemas.ts';
import { detect, edit, knownRecording, now, studyFolders, train, twoDances } from './made-study.ts';

const newStudy = studyFolders();
afterEach(() => vi.restoreAllMocks());

describe('a page’s questions, in a study of any size', () => {
  const queue = { include: 'unreviewed', offset: 0, limit: 200 } as const;
  const questions: Readonly<Record<string, (store: Store) => unknown>> = {
    'the day ribbon': (store) => countsByBin(store, 1, 1, 60),
    'a window': (store) => soundsWithin(store, 1, 1, 5, 65),
    progress: (store) => progressOf(store),
    'progress of a recording': (store) => progressOf(store, 1),
    'the queue by time': (store) => queuedSounds(store, { ...queue, order: 'time', recordingId: 1 }),
    'the queue by doubt': (store) => queuedSounds(store, { ...queue, order: 'confidence', recordingId: 1 }),
    'the queue of all by time': (store) => queuedSounds(store, { ...queue, order: 'time' }),
  };

  test.each(Object.keys(questions))('%s does not look through all sounds, nor sort them', async (name) => {
    const { store } = await newStudy(`plan of ${name}`);
    knownRecording(store);
    detect(store, 1, twoDances);
    const asked: string[] = [];
    const prepare = store.prepare.bind(store);
    vi.spyOn(store, 'prepare').mockImplementation(((sql: string) => {
      asked.push(sql);
      return prepare(sql);
    }) as typeof store.prepare);
    questions[name]!(store);
    const ofSounds = asked.filter((sql) => /\bsounds\b/.test(sql));
    expect(ofSounds.length).toBeGreaterThan(0);
    const given = {
      recordingId: 1,
      channel: 1,
      fromS: 5,
      toS: 65,
      longestS: 9,
      binS: 60,
      limit: 200,
      offset: 0,
    };
    for (const sql of ofSounds) {
      const places = sql.includes('?') ? [1, 1] : given;
      const plan = prepare(`EXPLAIN QUERY PLAN ${sql}`).all(places) as { detail: string }[];
      for (const { detail } of plan) {
        // All that wait may be counted in their own index; no row of a sound is read for it.
        const counting = /^SELECT count/.test(sql) && /COVERING INDEX sounds_waiting/.test(detail);
        if (!counting) expect(detail, sql).not.toMatch(/SCAN sounds(?! USING INDEX sounds_waiting)/);
        if (name.startsWith('the queue')) expect(detail, sql).not.toMatch(/TEMP B-TREE/);
      }
    }
  });
});

/** Progress told by all rows, as it was defined. */
function plainProgress(store: Store, recordingId?: number): Progress {
  const { sounds } = stateNow(store);
  const own = [...sounds.values()].filter(
    (one) => recordingId === undefined || one.recordingId === recordingId,
  );
  const left = own.filter(
    ({ kind, status, danceId }) => kind === 'train' && status !== 'rejected' && danceId !== null,
  );
  return {
    sounds: own.length,
    reviewed: own.filter(({ status, edited }) => status !== 'found' || edited).length,
    dances: new Set(left.map(({ danceId }) => danceId)).size,
  };
}

test('progress is what all rows tell, whoever wrote them and however', async () => {
  const study = await newStudy('progress');
  const { store } = study;
  const same = () => {
    for (const id of [undefined, 1, 2]) expect(progressOf(store, id)).toEqual(plainProgress(store, id));
  };
  knownRecording(store);
  knownRecording(store, { stem: 'later' });
  same();
  detect(store, 1, twoDances);
  same();
  detect(store, 2, twoDances, 'other');
  same();
  // Of two recordings at once.
  edit(store, { kind: 'reject', targets: [now(store, 'hive-t0001'), now(store, 'later-t0006')] });
  same();
  edit(store, {
    kind: 'reject',
    targets: ['t0007', 't0008', 't0009'].map((id) => now(store, `later-${id}`)),
  });
  same();
  expect(progressOf(store, 2).dances).toBe(1);
  undoEdit(store, { reviewer: 'ada' });
  same();
  edit(store, { kind: 'assign', targets: [now(store, 'hive-t0002')], danceId: null });
  same();
  detect(store, 1, [...twoDances, train(200, 201, 2)], 'again');
  same();
  const other = openStore(`${study.folder}/study.sqlite`);
  applyEdit(other, { kind: 'accept', targets: [now(other, 'hive-t0003')] }, { reviewer: 'bo' });
  same();
  for (let k = 0; k < 60; k++) {
    applyEdit(
      other,
      { kind: k % 2 === 0 ? 'accept' : 'reject', targets: [now(other, 'later-t0003')] },
      { reviewer: 'bo' },
    );
  }
  same();
  // Rows that were written without an event, as when they are made again.
  other.prepare("UPDATE sounds SET status = 'found', edited = 0").run();
  same();
  expect(progressOf(store).reviewed).toBe(0);
  expect(() =>
    store.transaction(() => {
      edit(store, { kind: 'accept', targets: [now(store, 'hive-t0004')] });
      same();
      throw new Error('to nothing');
    })(),
  ).toThrow('to nothing');
  same();
  edit(store, { kind: 'accept', targets: [now(store, 'hive-t0005')] });
  same();
  other.close();
});

test('a window holds a long sound that began long before it, as soon as there is one', async () => {
  const { store } = await newStudy('long sounds');
  knownRecording(store);
  detect(store, 1, twoDances);
  expect(soundsWithin(store, 1, 1, 300, 310)).toEqual([]);
  const place = { recordingId: 1, channel: 1, soundKind: 'other', danceId: null } as const;
  const { targets } = edit(store, { kind: 'add', ...place, startS: 120, endS: 305 });
  expect(soundsWithin(store, 1, 1, 300, 310).map(({ id }) => id)).toEqual(targets);
  expect(soundsWithin(store, 1, 1, 305, 310)).toEqual([]);
  undoEdit(store, { reviewer: 'ada' });
  expect(soundsWithin(store, 1, 1, 300, 310)).toEqual([]);
});
