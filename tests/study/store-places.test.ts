import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { likelyFeederFinder } from '../../src/study/openings.ts';
import { openStudy, readPlaces } from '../../src/study/study-folder.ts';
import { danceInView, studyView } from '../../src/study/study-view.ts';
import { observedDance, wholeDance } from '../../src/study/whole-dances.ts';
import { detect, edit, knownRecording, studyFolders, twoDances } from './made-study.ts';

const newStudy = studyFolders();

const feedersCsv = `feeder_id,distance_m,bearing_deg,latitude,longitude,paint_mark
reed,150,80,,,white
alder,350,,,,
ferry,,,51.2,7.1,blue
`;

async function tables(folder: string, feeders: string, openings: string): Promise<void> {
  await writeFile(join(folder, 'feeders.csv'), feeders);
  await writeFile(join(folder, 'openings.csv'), `feeder_id,start,end\n${openings}`);
}

describe('feeders and openings', () => {
  test('are read by distance and bearing, or by coordinates', async () => {
    const study = await newStudy('read');
    expect(await readPlaces(study)).toEqual({ feeders: [], openings: [] });
    await tables(study.folder, feedersCsv, 'reed,2031-06-14T09:30,2031-06-14T09:31\n');
    const { feeders, openings } = await readPlaces(study);
    expect(feeders[0]).toEqual({
      feederId: 'reed',
      distanceM: 150,
      bearingDeg: 80,
      latitude: null,
      longitude: null,
      paintMark: 'white',
    });
    expect(feeders[2]).toMatchObject({ distanceM: null, latitude: 51.2, longitude: 7.1 });
    expect(openings).toEqual([{ feederId: 'reed', start: '2031-06-14T09:30', end: '2031-06-14T09:31' }]);
  });

  test.each([
    ['feeder_id,distance_m\nreed,150\nreed,200\n', '', /feeders\.csv, row 3, column feeder_id.*as in row 2/],
    ['feeder_id,distance_m\nreed,\n', '', /row 2, column distance_m: found an empty cell/],
    ['feeder_id,latitude\nreed,51\n', '', /header: found no column longitude/],
    ['feeder_id,distance_m\nreed,-5\n', '', /row 2, column distance_m: found "-5"; wanted metres above 0/],
    [
      feedersCsv,
      'elm,2031-06-14T09:30,2031-06-14T09:31\n',
      /openings\.csv, row 2, column feeder_id: found "elm"/,
    ],
    [feedersCsv, 'reed,today,2031-06-14T09:31\n', /row 2, column start: found "today"/],
    [feedersCsv, 'reed,2031-06-14T09:31,2031-06-14T09:30\n', /row 2, column end.*a time after the start/],
    [
      feedersCsv,
      'reed,2031-06-14T09:31Z,2031-06-14T09:40\n',
      /an offset from UTC in both times or in neither/,
    ],
  ])('what cannot be is refused with its place: %j %j', async (feeders, openings, words) => {
    const study = await newStudy(`refused-${Math.abs(hash(feeders + openings))}`);
    await tables(study.folder, feeders, openings);
    await expect(readPlaces(study)).rejects.toThrow(words);
  });

  test('a dance gets the feeder that was open; two open are left to the reviewer', async () => {
    const study = await newStudy('likely');
    const { store } = study;
    detect(store, knownRecording(store).id, twoDances);
    await tables(
      study.folder,
      feedersCsv,
      'reed,2031-06-14T09:30:00,2031-06-14T09:32:00\nalder,2031-06-14T09:31:00,2031-06-14T09:35:00\n',
    );
    const view = studyView(study, await readPlaces(study));
    const first = danceInView(view, 'hive-d0001')!;
    expect(first).toMatchObject({ feederId: 'reed', feederSource: 'opening', feederDistanceM: 150 });
    expect(first.startTime).toBe('2031-06-14T09:30:10.000');
    const second = danceInView(view, 'hive-d0002')!;
    expect(second).toMatchObject({ feederId: null, feederSource: null, feederConflict: ['reed', 'alder'] });
    const target = { id: second.id, version: second.version };
    edit(store, { kind: 'dance', target, changes: { feederId: 'alder', treatment: 'loaded' } });
    const decided = danceInView(view, 'hive-d0002')!;
    expect(decided).toMatchObject({ feederSource: 'reviewer', feederDistanceM: 350, feederConflict: [] });
    expect(observedDance(view, wholeDance(view, decided.id)!)).toMatchObject({
      distanceM: 350,
      treatment: 'loaded',
      durationsS: [0.6, 0.6, 0.6, 0.6],
      circuitsPer15s: [5, 5, 5, null],
    });
    const again = { id: second.id, version: decided.version };
    edit(store, { kind: 'dance', target: again, changes: { feederId: null } });
    const none = danceInView(view, 'hive-d0002')!;
    expect(none).toMatchObject({ feederId: null, feederSource: 'reviewer', feederConflict: [] });
    edit(store, {
      kind: 'dance',
      target: { id: second.id, version: none.version },
      changes: { feederId: 'auto' },
    });
    expect(danceInView(view, 'hive-d0002')!.feederConflict).toEqual(['reed', 'alder']);
  });

  test('clock times are compared as instants; without a zone only like with like', () => {
    const openings = [{ feederId: 'reed', start: '2031-06-14T07:30:00Z', end: '2031-06-14T07:31:00Z' }];
    const at = (start: string | null, zone: string | null) =>
      likelyFeederFinder(openings, start, zone)(10, 20).feederId;
    expect(at('2031-06-14T09:30:00+02:00', null)).toBe('reed');
    expect(at('2031-06-14T09:30:00', 'Europe/Berlin')).toBe('reed');
    expect(at('2031-06-14T09:30:00', 'Europe/London')).toBeNull();
    expect(at('2031-06-14T07:30:00', null)).toBeNull();
    expect(at(null, 'Europe/Berlin')).toBeNull();
    const local = [{ feederId: 'reed', start: '2031-06-14T07:30:00', end: '2031-06-14T07:31:00' }];
    expect(likelyFeederFinder(local, '2031-06-14T07:30:00', null)(10, 20).feederId).toBe('reed');
  });
});

describe('study.json', () => {
  test.each([
    ['{', /study\.json: found no JSON/],
    ['{"formatVersion": 2}', /formatVersion: found 2, from a newer combtone/],
    ['{"format": "other"}', /study\.json, format: found "other"/],
  ])('%j is refused', async (text, words) => {
    const { folder } = await newStudy(`json-${Math.abs(hash(text))}`);
    await writeFile(join(folder, 'study.json'), text);
    await expect(openStudy(folder)).rejects.toThrow(words);
  });

  test('a zone that there is not, and a folder that is no study, are refused', async () => {
    const { folder, settings } = await newStudy('zone');
    const wrong = { ...settings, hive: { ...settings.hive, timeZone: 'Nowhere/Atoll' } };
    await writeFile(join(folder, 'study.json'), JSON.stringify(wrong));
    await expect(openStudy(folder)).rejects.toThrow(/hive\.timeZone: found "Nowhere\/Atoll"/);
    await expect(openStudy(join(folder, 'none'))).rejects.toThrow(/no study\.json in it/);
  });
});

/** A number for a folder's name. */
function hash(text: string): number {
  return [...text].reduce((sum, letter) => (31 * sum + letter.charCodeAt(0)) | 0, 7);
}
