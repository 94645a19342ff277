import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { InputError } from '../../../src/input-error.ts';
import { plainText, safeText } from '../../../src/study/csv.ts';
import { dictionaryRows, dictionaryText } from '../../../src/study/export/dictionary.ts';
import { joinIds, splitIds } from '../../../src/study/export/id-lists.ts';
import { importStudy } from '../../../src/study/export/import-study.ts';
import { columnMeanings, tableMeanings } from '../../../src/study/export/meanings.ts';
import { exportSchemas } from '../../../src/study/export/schemas.ts';
import { webVttParts } from '../../../src/study/export/webvtt.ts';
import { writeExport } from '../../../src/study/export/write-export.ts';
import { saveCalibration } from '../../../src/study/store/calibrations.ts';
import { redoEdit, undoEdit } from '../../../src/study/store/edit.ts';
import { lastEventId, undoStacks } from '../../../src/study/store/events.ts';
import { pulsesWithin } from '../../../src/study/store/pulses.ts';
import { allRecordings } from '../../../src/study/store/recordings.ts';
import { soundById, stateNow } from '../../../src/study/store/state.ts';
import { calibrateDances } from '../../../src/study/study-calibration.ts';
import { type OpenStudy, openStudy, readPlaces } from '../../../src/study/study-folder.ts';
import { studyView } from '../../../src/study/study-view.ts';
import {
  dancesToFeeders,
  detect,
  edit,
  knownRecording,
  now,
  studyFolders,
  train,
  twoDances,
} from '../made-study.ts';

const newStudy = studyFolders();
let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-export-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));
const at = (name: string) => join(folder, name);

const exported = async (study: OpenStudy, to: string) =>
  writeExport(to, studyView(study, await readPlaces(study)));

/** A study with every kind of edit in it, taken back and done again, of two recordings detected twice. */
async function worked(name: string): Promise<OpenStudy> {
  const study = await newStudy(name);
  const { store } = study;
  const first = knownRecording(store, { warnings: ['odd header', '=cut short'] });
  const second = knownRecording(store, { stem: 'later; odd', startTime: null });
  detect(store, first.id, twoDances);
  detect(store, second.id, twoDances, 'other');
  edit(store, { kind: 'accept', targets: [now(store, 'hive-t0001'), now(store, 'hive-t0002')] });
  edit(store, { kind: 'reject', targets: [now(store, 'hive-c0001')] }, 'bo');
  edit(store, { kind: 'times', target: now(store, 'hive-t0003'), startS: 16.1, endS: 16.9 });
  edit(store, { kind: 'sound-kind', targets: [now(store, 'hive-t0004')], soundKind: 'piping' });
  edit(store, { kind: 'split', target: now(store, 'hive-t0005'), firstEndS: 22.4, secondStartS: 22.5 });
  edit(store, { kind: 'join', targets: [now(store, 'hive-t0006'), now(store, 'hive-t0007')] });
  const added = { recordingId: 1, channel: 1, soundKind: 'train', startS: 50, endS: 51 } as const;
  edit(store, { kind: 'add', ...added, danceId: 'hive-d0001' });
  edit(store, { kind: 'assign', targets: [now(store, 'hive-t0008')], danceId: 'new' });
  const noted = {
    beeId: '=red-7',
    combAngleDeg: 40,
    feederId: 'reed',
    note: '\'-\n"tired", she said; @ last',
  };
  edit(store, {
    kind: 'dance',
    target: { id: 'hive-d0002', version: stateNow(store).dances.get('hive-d0002')!.version },
    changes: noted,
  });
  undoEdit(store, { reviewer: 'ada' });
  redoEdit(store, { reviewer: 'ada' });
  // All runs of a dance rejected: it has no row to sum up, but is there.
  const runs = ['t0006', 't0007', 't0008', 't0009'].map((id) => now(store, `later; odd-${id}`));
  edit(store, { kind: 'reject', targets: runs });
  detect(store, first.id, [...twoDances, train(200, 201, 2)], 'again');
  await writeFile(
    join(study.folder, 'feeders.csv'),
    'feeder_id,distance_m,paint_mark\nreed,150,+white\nalder,350,\n',
  );
  const span = '2031-06-14T09:00:00,2031-06-14T10:00:00';
  await writeFile(join(study.folder, 'openings.csv'), `feeder_id,start,end\nalder,${span}\n`);
  const record = calibrateDances(dancesToFeeders, { curve: 'line', runs: 'inner' });
  saveCalibration(store, { name: 'june', reviewer: 'ada', danceIds: ['a;b', 'c\\d', 'e'], record });
  return study;
}

async function contents(path: string): Promise<Record<string, string>> {
  const names = (await readdir(path, { recursive: true, withFileTypes: true })).filter((one) => one.isFile());
  const read = names.map(async (one) => {
    const file = join(one.parentPath, one.name);
    return [file.slice(path.length + 1), await readFile(file, 'utf8')] as const;
  });
  return Object.fromEntries(await Promise.all(read));
}

describe('an exported study', () => {
  test('is the same study again when imported: rows, reviews, pulses, calibrations, and its export to the byte', async () => {
    const study = await worked('whole');
    const written = await exported(study, at('tables'));
    expect(written.rowCounts).toMatchObject({
      recordings: 2,
      feeders: 2,
      openings: 1,
      calibrations: 1,
      detections: 3,
    });
    const told = await importStudy(at('again'), at('tables'));
    expect(told).toMatchObject({ recordings: 2, changedRows: 0, events: lastEventId(study.store) });
    const again = await openStudy(at('again'));
    try {
      expect(stateNow(again.store)).toEqual(stateNow(study.store));
      const ids = [...stateNow(study.store).sounds.values()];
      expect(ids.map((sound) => pulsesWithin(again.store, sound))).toEqual(
        ids.map((sound) => pulsesWithin(study.store, sound)),
      );
      expect(pulsesWithin(again.store, soundById(again.store, 'hive-t0001')!).length).toBeGreaterThan(10);
      expect(undoStacks(again.store, 'ada')).toEqual(undoStacks(study.store, 'ada'));
      // Their files are looked at before they are used.
      const unseen = allRecordings(study.store).map((one) => ({ ...one, modifiedMs: -1 }));
      expect(allRecordings(again.store)).toEqual(unseen);
      await exported(again, at('tables again'));
      expect(await contents(at('tables again'))).toEqual(await contents(at('tables')));
      // New ids go on after all that there ever were, and what was done can be taken back.
      undoEdit(again.store, { reviewer: 'ada' });
      const place = { recordingId: 1, channel: 1, soundKind: 'train', startS: 70, endS: 71 } as const;
      const event = edit(again.store, { kind: 'add', ...place, danceId: 'new' });
      const twin = edit(study.store, { kind: 'add', ...place, danceId: 'new' });
      expect(event.targets).toEqual(twin.targets);
    } finally {
      again.store.close();
    }
  });

  test('is the same to the byte each time, and makes text safe for spreadsheets in every table', async () => {
    const study = await worked('twice');
    await exported(study, at('one'));
    await exported(study, at('two'));
    const files = await contents(at('one'));
    expect(await contents(at('two'))).toEqual(files);
    expect(files['dances.csv']).toContain(",'=red-7,");
    expect(files['feeders.csv']).toContain(",'+white");
    const json = JSON.parse(files['study-tables.json']!);
    expect(json.dances.find(({ dance_id }: { dance_id: string }) => dance_id === 'hive-d0002')).toMatchObject(
      {
        bee_id: '=red-7',
        feeder_source: 'reviewer',
        reviewer: 'ada',
      },
    );
    expect(
      json.dances.find(({ dance_id }: { dance_id: string }) => dance_id === 'later; odd-d0002'),
    ).toMatchObject({
      run_count: 0,
      start_s: null,
    });
    expect(Object.keys(files)).toContain('cues/later; odd.vtt');
  });

  test('without its events has the rows of its tables, in one event that nobody takes back', async () => {
    const study = await worked('bare');
    await exported(study, at('bare tables'));
    await rm(join(at('bare tables'), 'events.csv'));
    await importStudy(at('bare again'), at('bare tables'));
    const again = await openStudy(at('bare again'));
    const plain = (one: OpenStudy) =>
      [...stateNow(one.store).sounds].map(([id, { version: _, ...sound }]) => [id, sound]);
    expect(plain(again)).toEqual(plain(study));
    expect(() => undoEdit(again.store, { reviewer: 'combtone' })).toThrow('there is no edit to take back');
    again.store.close();
  });

  test('changed in a table has the change', async () => {
    const study = await worked('changed');
    await exported(study, at('changed tables'));
    const file = join(at('changed tables'), 'trains.csv');
    const table = await readFile(file, 'utf8');
    const found =
      /^[^\n]*hive-t0010,[^\n]*,found,[^\n]*$/m.exec(table)?.[0] ?? /^[^\n]*,found,[^\n]*$/m.exec(table)![0];
    await writeFile(file, table.replace(found, found.replace(',found,', ',rejected,')));
    expect(await importStudy(at('changed again'), at('changed tables'))).toMatchObject({ changedRows: 1 });
  });

  test.each([
    ['trains.csv', /,0\.9,/, ',1.9,', /trains\.csv, row \d+, column confidence: found "1.9"/],
    [
      'trains.csv',
      /hive-d0001/,
      'hive-d9',
      /column dance_id: found "hive-d9"; wanted one that the table of dances has/,
    ],
    ['calls.csv', /hive-c0002/, 'hive-t0001', /column call_id: found "hive-t0001" again, as in row/],
    [
      'events.csv',
      /""recordingId"":1/,
      '""recordingId""',
      /events\.csv, row \d+, column after: found .*; wanted JSON/,
    ],
    [
      'detections.csv',
      /^1,/m,
      '9,',
      /column detection_id: found 1; wanted one that the table of detections has/,
    ],
    ['settings.json', /combtone study/, 'other', /settings\.json, format: found/],
  ])('with a wrong %s (%s) makes nothing', async (name, wrong, put, wanted) => {
    const study = await worked(`wrong ${name} ${put.replaceAll(/\W/g, '')}`);
    const [tables, again] = [at(`tables ${study.settings.name}`), at(`again ${study.settings.name}`)];
    await exported(study, tables);
    const table = await readFile(join(tables, name), 'utf8');
    expect(table).toMatch(wrong);
    await writeFile(join(tables, name), table.replace(wrong, put));
    const failed = await importStudy(again, tables).catch((error: unknown) => error);
    expect(failed).toBeInstanceOf(InputError);
    expect((failed as Error).message).toMatch(wanted);
    expect(await readdir(again).catch(() => [])).toEqual([]);
  });
});

describe('the data dictionary', () => {
  test('says of every column what it means, and knows no column that is not there', () => {
    const rows = dictionaryRows();
    const columns = new Set(rows.flatMap(({ table, column }) => [column, `${table}.${column}`]));
    expect(Object.keys(columnMeanings).filter((column) => !columns.has(column))).toEqual([]);
    expect(Object.keys(tableMeanings)).toEqual(Object.keys(exportSchemas));
    for (const { meaning, empty, type } of rows) {
      expect(meaning.length).toBeGreaterThan(2);
      expect(empty.length).toBeGreaterThan(3);
      expect(type).toMatch(/^(text|number|whole number|true or false|one of: .+)$/);
    }
  });

  test('in docs is that of the schemas (npx vitest run --dir tests -u tests/study/export writes it anew)', async () => {
    await expect(dictionaryText()).toMatchFileSnapshot('../../../docs/data-dictionary.md');
  });
});

test('text made safe for spreadsheets comes back as it was', () => {
  for (const text of ['=1+1', '+a', '-a', '@a', '\ta', '\ra', "'=a", "''-", "'tis", 'a=b', '', 'ünder'])
    expect(plainText(safeText(text))).toBe(text);
  for (const text of ['=1+1', '+a', '-a', '@a', '\ta', '\ra']) expect(safeText(text)[0]).toBe("'");
  expect(safeText('red-7')).toBe('red-7');
});

test('lists of ids come back as they were', () => {
  for (const ids of [[], ['a'], ['a', 'b'], ['a;b', 'c\\', '\\;'], ['a\\;b']])
    expect(splitIds(joinIds(ids))).toEqual(ids);
});

test('WebVTT cues have ids, times to the millisecond that go forward, and nothing that means something else', async () => {
  const { store } = await newStudy('cues');
  const recording = knownRecording(store, { stem: 'a<b-->c&d', durationS: 400_000 });
  detect(store, recording.id, [train(1.0004, 1.0006, 0), train(360_000.5, 360_001.25, 0)]);
  const text = [...webVttParts(recording, stateNow(store).sounds.values())].join('');
  expect(text.startsWith('WEBVTT\n\n')).toBe(true);
  const times = [...text.matchAll(/^(\S+) --> (\S+)$/gm)].map(([, from, to]) => [from, to]);
  expect(times).toEqual([
    ['00:00:01.000', '00:00:01.001'],
    ['100:00:00.500', '100:00:01.250'],
  ]);
  expect(text).toContain('a&lt;b--&gt;c&amp;d-t0001\n');
  expect(text).toMatch(/waggle run, .*, 0\.750 s, 260 Hz, channel 1, found\n/);
});
