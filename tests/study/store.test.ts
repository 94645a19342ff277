import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, test } from 'vitest';
import { InputError } from '../../src/input-error.ts';
import { applyEdit, LostRace, NothingToUndo, redoEdit, undoEdit } from '../../src/study/store/edit.ts';
import { lastEventId, newestEvents, undoStacks } from '../../src/study/store/events.ts';
import { migrations } from '../../src/study/store/migrations/index.ts';
import { openStore, type Store } from '../../src/study/store/open-store.ts';
import { danceById, rebuildState, soundById, stateAt, stateNow } from '../../src/study/store/state.ts';
import type { Edit } from '../../src/study/study-schemas.ts';
import { detect, edit, knownRecording, now, studyFolders, twoDances } from './made-study.ts';

const newStudy = studyFolders();

async function reviewed(name: string): Promise<Store> {
  const { store } = await newStudy(name);
  detect(store, knownRecording(store).id, twoDances);
  return store;
}

/** One of each kind of edit, on a study with two dances. */
const everyEdit: readonly ((store: Store) => Edit)[] = [
  (store) => ({ kind: 'accept', targets: [now(store, 'hive-t0001'), now(store, 'hive-t0002')] }),
  (store) => ({ kind: 'reject', targets: [now(store, 'hive-c0001')] }),
  (store) => ({ kind: 'times', target: now(store, 'hive-t0003'), startS: 16.1, endS: 16.9 }),
  (store) => ({ kind: 'sound-kind', targets: [now(store, 'hive-t0004')], soundKind: 'piping' }),
  (store) => ({ kind: 'split', target: now(store, 'hive-t0005'), firstEndS: 22.4, secondStartS: 22.5 }),
  (store) => ({ kind: 'join', targets: [now(store, 'hive-t0006'), now(store, 'hive-t0007')] }),
  () => ({
    kind: 'add',
    recordingId: 1,
    channel: 1,
    soundKind: 'train',
    startS: 50,
    endS: 51,
    danceId: 'hive-d0001',
  }),
  (store) => ({ kind: 'assign', targets: [now(store, 'hive-t0008')], danceId: 'new' }),
  (store) => ({
    kind: 'dance',
    target: { id: 'hive-d0002', version: danceById(store, 'hive-d0002')!.version },
    changes: { beeId: 'red-7', combAngleDeg: 40, feederId: 'reed', note: 'tired' },
  }),
];

describe('the store', () => {
  test('keeps every kind of edit as an event, from which the rows can be made again', async () => {
    const store = await reviewed('every');
    const states = [stateNow(store)];
    for (const make of everyEdit) {
      edit(store, make(store));
      states.push(stateNow(store));
    }
    for (const [k, state] of states.entries()) expect(stateAt(store, k + 1)).toEqual(state);
    expect(stateAt(store, 0)).toEqual({ sounds: new Map(), dances: new Map() });
    rebuildState(store);
    expect(stateNow(store)).toEqual(states.at(-1));
    const kinds = newestEvents(store, 100).map(({ kind }) => kind);
    expect(kinds.reverse()).toEqual(['detect', ...everyEdit.map((make) => make(store).kind)]);
  });

  test('an event tells who, when, what, and the row before and after', async () => {
    const store = await reviewed('event');
    const event = edit(store, { kind: 'reject', targets: [now(store, 'hive-c0001')] }, 'grace');
    expect(event).toMatchObject({
      reviewer: 'grace',
      kind: 'reject',
      recordingId: 1,
      targets: ['hive-c0001'],
    });
    expect(Math.abs(Date.parse(event.at) - Date.now())).toBeLessThan(60_000);
    const row = store.prepare('SELECT before, after FROM events WHERE event_id = ?').get(event.id) as {
      before: string;
      after: string;
    };
    expect(JSON.parse(row.before).sounds['hive-c0001']).toMatchObject({ status: 'found', edited: false });
    expect(JSON.parse(row.after).sounds['hive-c0001']).toMatchObject({ status: 'rejected', edited: true });
  });

  test('events can be neither changed nor removed', async () => {
    const store = await reviewed('append-only');
    expect(() => store.exec("UPDATE events SET reviewer = 'nobody'")).toThrow(/never changed/);
    expect(() => store.exec('DELETE FROM events')).toThrow(/never removed/);
    expect(lastEventId(store)).toBe(1);
  });

  test('undo and redo walk the same states back and forth, each step an event', async () => {
    const store = await reviewed('undo');
    const contents = () => {
      const { sounds, dances } = stateNow(store);
      const bare = <R extends { version: number }>(rows: ReadonlyMap<string, R>) =>
        [...rows.values()].map(({ version: _, ...row }) => row);
      return { sounds: bare(sounds), dances: bare(dances) };
    };
    const states = [contents()];
    for (const make of everyEdit) {
      edit(store, make(store));
      states.push(contents());
    }
    const by = { reviewer: 'ada' };
    for (let k = states.length - 2; k >= 0; k--) {
      undoEdit(store, by);
      expect(contents()).toEqual(states[k]);
    }
    expect(() => undoEdit(store, by)).toThrow(NothingToUndo);
    for (const state of states.slice(1)) {
      redoEdit(store, by);
      expect(contents()).toEqual(state);
    }
    expect(() => redoEdit(store, by)).toThrow(NothingToUndo);
    undoEdit(store, by);
    expect(contents()).toEqual(states.at(-2));
    expect(lastEventId(store)).toBe(1 + 3 * everyEdit.length + 1);
    rebuildState(store);
    expect(contents()).toEqual(states.at(-2));
  });

  test('a new edit ends what could be done again; each reviewer takes back only her own', async () => {
    const store = await reviewed('stacks');
    edit(store, { kind: 'accept', targets: [now(store, 'hive-t0001')] }, 'ada');
    edit(store, { kind: 'reject', targets: [now(store, 'hive-t0002')] }, 'grace');
    undoEdit(store, { reviewer: 'ada' });
    expect(soundById(store, 'hive-t0001')).toMatchObject({ status: 'found' });
    expect(soundById(store, 'hive-t0002')).toMatchObject({ status: 'rejected' });
    edit(store, { kind: 'accept', targets: [now(store, 'hive-t0003')] }, 'ada');
    expect(() => redoEdit(store, { reviewer: 'ada' })).toThrow(NothingToUndo);
    expect(undoStacks(store, 'grace').undo).toHaveLength(1);
  });

  test('what another reviewer has changed since is not taken back over her head', async () => {
    const store = await reviewed('undo-race');
    edit(store, { kind: 'accept', targets: [now(store, 'hive-t0001')] }, 'ada');
    edit(store, { kind: 'reject', targets: [now(store, 'hive-t0001')] }, 'grace');
    expect(() => undoEdit(store, { reviewer: 'ada' })).toThrow(LostRace);
    expect(soundById(store, 'hive-t0001')).toMatchObject({ status: 'rejected' });
    const made = edit(store, { kind: 'assign', targets: [now(store, 'hive-t0002')], danceId: 'new' }, 'ada');
    const danceId = soundById(store, made.targets[0]!)!.danceId!;
    edit(store, { kind: 'assign', targets: [now(store, 'hive-t0003')], danceId }, 'grace');
    expect(() => undoEdit(store, { reviewer: 'ada' })).toThrow(/cannot be taken back/);
  });

  test('an edit made on an old version is refused and changes nothing', async () => {
    const store = await reviewed('versions');
    const [old, other] = [now(store, 'hive-t0001'), now(store, 'hive-t0002')];
    edit(store, { kind: 'reject', targets: [old] }, 'grace');
    const before = lastEventId(store);
    const late: Edit = { kind: 'accept', targets: [other, old] };
    expect(() => edit(store, late)).toThrow(LostRace);
    expect(() => edit(store, { kind: 'accept', targets: [{ id: 'hive-t9999', version: 1 }] })).toThrow(
      LostRace,
    );
    expect(lastEventId(store)).toBe(before);
    expect(soundById(store, 'hive-t0002')).toMatchObject({ status: 'found' });
  });

  test('a repeated request is done once', async () => {
    const store = await reviewed('repeated');
    const given: Edit = { kind: 'accept', targets: [now(store, 'hive-t0001')] };
    const by = { reviewer: 'ada', requestId: 'request-1' };
    expect(applyEdit(store, given, by).id).toBe(2);
    expect(applyEdit(store, given, by).id).toBe(2);
    expect(lastEventId(store)).toBe(2);
  });

  test('ids of what was taken back are not given again', async () => {
    const store = await reviewed('ids');
    const add: Edit = {
      kind: 'add',
      recordingId: 1,
      channel: 1,
      soundKind: 'train',
      startS: 50,
      endS: 51,
      danceId: null,
    };
    const first = edit(store, add).targets[0];
    undoEdit(store, { reviewer: 'ada' });
    const second = edit(store, add).targets[0];
    expect([first, second]).toEqual(['hive-t0010', 'hive-t0011']);
  });

  test('two handles see each other’s edits, and the later of two is told', async () => {
    const study = await newStudy('handles');
    detect(study.store, knownRecording(study.store).id, twoDances);
    const other = openStore(join(study.folder, 'study.sqlite'));
    const target = now(other, 'hive-t0001');
    edit(study.store, { kind: 'accept', targets: [target] });
    expect(soundById(other, 'hive-t0001')).toMatchObject({ status: 'accepted', version: 2 });
    expect(() => edit(other, { kind: 'reject', targets: [target] })).toThrow(LostRace);
    edit(other, { kind: 'reject', targets: [now(other, 'hive-t0001')] }, 'grace');
    expect(soundById(study.store, 'hive-t0001')).toMatchObject({ status: 'rejected', version: 3 });
    other.close();
  });
});

describe('opening a store', () => {
  test('migrations are done in order, once', async () => {
    const { folder, store } = await newStudy('migrations');
    detect(store, knownRecording(store).id, twoDances);
    const path = join(folder, 'study.sqlite');
    const known = [
      ...migrations,
      'ALTER TABLE recordings ADD COLUMN place TEXT',
      'CREATE TABLE extra (a TEXT)',
    ];
    const brought = openStore(path, { known });
    expect(brought.pragma('user_version', { simple: true })).toBe(known.length);
    expect(brought.prepare('SELECT place FROM recordings').pluck().get()).toBeNull();
    expect(stateNow(brought).sounds.size).toBe(twoDances.length);
    brought.close();
    openStore(path, { known }).close();
  });

  test('a migration that fails leaves the store as it was', async () => {
    const { folder } = await newStudy('half');
    const path = join(folder, 'study.sqlite');
    const known = [...migrations, 'CREATE TABLE extra (a TEXT)', 'CREATE TABLE recordings (a TEXT)'];
    expect(() => openStore(path, { known })).toThrow(/already exists/);
    const store = openStore(path);
    expect(store.prepare("SELECT count(*) FROM sqlite_schema WHERE name = 'extra'").pluck().get()).toBe(0);
    store.close();
  });

  test('a newer store, an older one read only, and what is no store are refused in words', async () => {
    const { folder } = await newStudy('newer');
    const path = join(folder, 'study.sqlite');
    const raw = new Database(path);
    raw.pragma(`user_version = ${migrations.length + 1}`);
    raw.close();
    const wrong = (open: () => void, words: RegExp) => {
      expect(open).toThrow(InputError);
      expect(open).toThrow(words);
    };
    const newer = `found a store of version ${migrations.length + 1}, made by a newer combtone`;
    wrong(() => openStore(path), new RegExp(newer));
    const { folder: older } = await newStudy('older');
    const known = [...migrations, 'CREATE TABLE extra (a TEXT)'];
    wrong(
      () => openStore(join(older, 'study.sqlite'), { known, readOnly: true }),
      /older combtone.*study status/,
    );
    await writeFile(join(folder, 'text.sqlite'), 'These are words and no store at all. '.repeat(100));
    wrong(() => openStore(join(folder, 'text.sqlite')), /no store, or a damaged one/);
    wrong(() => openStore(join(folder, 'none.sqlite')), /no such file/);
  });

  test('what is acknowledged is on disk: WAL, synchronous FULL, foreign keys on', async () => {
    const { store } = await newStudy('pragmas');
    const value = (name: string) => store.pragma(name, { simple: true });
    expect([value('journal_mode'), value('synchronous'), value('foreign_keys')]).toEqual(['wal', 2, 1]);
  });
});
