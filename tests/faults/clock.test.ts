import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { calibrationNamed, saveCalibration } from '../../src/study/store/calibrations.ts';
import { currentDetection } from '../../src/study/store/detections.ts';
import { redoEdit, undoEdit } from '../../src/study/store/edit.ts';
import { eventsAfter, newestEvents, undoStacks } from '../../src/study/store/events.ts';
import { rebuildState, soundById, stateAt, stateNow } from '../../src/study/store/state.ts';
import { storeFaults } from '../../src/study/store/store-check.ts';
import { detect, edit, knownRecording, now, studyFolders, train, twoDances } from '../study/made-study.ts';

const newStudy = studyFolders();
beforeEach(() => void vi.useFakeTimers({ toFake: ['Date'], now: Date.parse('2031-06-14T12:00:00Z') }));
afterEach(() => void vi.useRealTimers());

/** The machine's clock goes back, as when it is set right, or its battery was empty. */
const clockBackTo = (time: string) => vi.setSystemTime(Date.parse(time));

test('with the clock set back, edits, undo, detection and calibrations go on in the order in which they are done', async () => {
  const { store } = await newStudy('clock');
  const { id } = knownRecording(store);
  detect(store, id, twoDances);
  edit(store, { kind: 'accept', targets: [now(store, 'hive-t0001')] });
  clockBackTo('1970-01-01T00:00:10Z');
  edit(store, { kind: 'reject', targets: [now(store, 'hive-t0001')] });
  edit(store, { kind: 'reject', targets: [now(store, 'hive-t0002')] });
  clockBackTo('2031-06-14T11:00:00Z');
  const found = detect(store, id, [...twoDances, train(300, 301, 2)], 'second');

  const events = eventsAfter(store, 0);
  expect(events.map(({ id: event }) => event)).toEqual([1, 2, 3, 4, 5]);
  expect(events.map(({ at }) => at.slice(0, 13))).toEqual([
    '2031-06-14T12',
    '2031-06-14T12',
    '1970-01-01T00',
    '1970-01-01T00',
    '2031-06-14T11',
  ]);
  expect(newestEvents(store, 1)[0]!.kind).toBe('detect');
  // The detection that the rows are of is the one made last, though its clock says otherwise.
  expect(currentDetection(store, id)!.id).toBe(found.id);
  expect(soundById(store, 'hive-t0001')).toMatchObject({ status: 'rejected', version: 3 });
  undoEdit(store, { reviewer: 'ada' });
  undoEdit(store, { reviewer: 'ada' });
  expect(soundById(store, 'hive-t0001')).toMatchObject({ status: 'accepted' });
  expect(undoStacks(store, 'ada')).toMatchObject({ undo: [2], redo: [6, 7] });
  clockBackTo('2001-01-01T00:00:00Z');
  redoEdit(store, { reviewer: 'ada' });
  expect(soundById(store, 'hive-t0001')).toMatchObject({ status: 'rejected' });

  const rows = stateNow(store);
  expect(stateAt(store, 8)).toEqual(rows);
  rebuildState(store);
  expect(stateNow(store)).toEqual(rows);
  expect(Object.values(storeFaults(store)).flat()).toEqual([]);

  const record = { format: 'combtone calibration' } as never;
  saveCalibration(store, { name: 'june', reviewer: 'ada', danceIds: ['hive-d0001'], record });
  clockBackTo('1999-01-01T00:00:00Z');
  saveCalibration(store, { name: 'june', reviewer: 'ada', danceIds: ['hive-d0002'], record });
  expect(calibrationNamed(store, 'june')!.saved.danceIds).toEqual(['hive-d0002']);
});
