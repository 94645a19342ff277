import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { applyDanceNotes, readDanceNotes } from '../../src/study/dance-notes.ts';
import { readFeederPlaces } from '../../src/study/places.ts';
import { lastEventId, newestEvents } from '../../src/study/store/events.ts';
import { danceById, soundById } from '../../src/study/store/state.ts';
import { type OpenStudy, readPlaces, writeSettings } from '../../src/study/study-folder.ts';
import { dancesWithoutFeeder } from '../../src/study/study-observations.ts';
import { danceInView, type StudyView, studyView } from '../../src/study/study-view.ts';
import { detect, edit, knownRecording, now, studyFolders, train, twoDances } from './made-study.ts';

const newStudy = studyFolders();

/** Two dances, 09:30:10 to 09:30:23 and 09:31:40 to 09:31:49.6, and a third at the time of the first on channel 2. */
async function danced(name: string): Promise<{ study: OpenStudy; view: StudyView }> {
  const made = await newStudy(name);
  const hive = { latitude: 51, longitude: 9, elevationM: null, timeZone: 'Europe/Berlin' };
  await writeSettings(made.folder, { ...made.settings, hive });
  const study = { ...made, settings: { ...made.settings, hive } };
  detect(study.store, knownRecording(study.store).id, [
    ...twoDances,
    ...[0, 1, 2].map((k) => train(200 + 3 * k, 201 + 3 * k, 2)),
    ...[0, 1, 2].map((k) => train(201.5 + 3 * k, 202 + 3 * k, 3, { channel: 2 })),
  ]);
  await writeFile(join(study.folder, 'feeders.csv'), 'feeder_id,distance_m\nreed,150\n');
  return { study, view: studyView(study, await readPlaces(study)) };
}

async function notes(view: StudyView, content: string) {
  const file = join(view.study.folder, 'notes.csv');
  await writeFile(file, content);
  const { notes: placed, refused } = await readDanceNotes(file, view);
  if (refused.length > 0) throw new Error(refused.map(({ error }) => error.message).join('\n'));
  return placed;
}

describe('notes of an observer', () => {
  test('fall each on its own dance once the one that was found for two has been divided', async () => {
    const { study, view } = await danced('divided');
    const two = 'time,bee_id\n2031-06-14T09:30:12,red\n2031-06-14T09:30:21,blue\n';
    await expect(notes(view, two)).rejects.toThrow('divide it on the page');
    const second = ['hive-t0004', 'hive-t0005'].map((id) => now(study.store, id));
    edit(study.store, { kind: 'assign', targets: second, danceId: 'new' });
    const read = await notes(view, two);
    expect(read.map(({ dance, changes }) => [dance.id, changes.beeId])).toEqual([
      ['hive-d0001', 'red'],
      [soundById(study.store, 'hive-t0005')!.danceId, 'blue'],
    ]);
  });

  test('go to the dance of their time or id, as a reviewer’s edits', async () => {
    const { study, view } = await danced('good');
    const read = await notes(
      view,
      'time,dance_id,bee_id,comb_angle_deg,feeder_id,note\n2031-06-14T09:30:15,,red-7,-40,reed,\n2031-06-14T07:31:55Z,,,370,,late\n'.replace(
        '370',
        '350',
      ),
    );
    expect(read.map(({ dance }) => dance.id)).toEqual(['hive-d0001', 'hive-d0002']);
    applyDanceNotes(view, read, 'ada');
    expect(danceById(study.store, 'hive-d0001')).toMatchObject({
      beeId: 'red-7',
      combAngleDeg: 320,
      feederId: 'reed',
      feederSet: true,
      note: null,
    });
    expect(danceById(study.store, 'hive-d0002')).toMatchObject({
      combAngleDeg: 350,
      note: 'late',
      beeId: null,
    });
    expect(newestEvents(study.store, 2, 'ada').map(({ kind }) => kind)).toEqual(['dance', 'dance']);
    const again = await notes(studyView(study, view.places), 'dance_id,treatment\nhive-c2-d0001,loaded\n');
    applyDanceNotes(view, again, 'bo');
    expect(danceById(study.store, 'hive-c2-d0001')).toMatchObject({ treatment: 'loaded' });
  });

  test('none for a feeder takes a dance from the feeder that was open', async () => {
    const { study, view } = await danced('nowhere');
    const opening = 'feeder_id,start,end\nreed,2031-06-14T09:00:00,2031-06-14T10:00:00\n';
    await writeFile(join(study.folder, 'openings.csv'), opening);
    const feederOf = async () => {
      const seen = studyView(study, await readPlaces(study));
      const { observed } = dancesWithoutFeeder(seen);
      const { feederId, feederSource } = danceInView(seen, 'hive-d0001')!;
      return { feederId, feederSource, without: observed.map(({ danceId }) => danceId) };
    };
    expect(await feederOf()).toEqual({ feederId: 'reed', feederSource: 'opening', without: [] });
    const read = await notes(view, 'time,bee_id,feeder_id\n2031-06-14T09:30:15,red-7,none\n');
    applyDanceNotes(view, read, 'ada');
    expect(await feederOf()).toEqual({ feederId: null, feederSource: 'reviewer', without: ['hive-d0001'] });
    expect(danceById(study.store, 'hive-d0001')).toMatchObject({ beeId: 'red-7' });
  });

  test('no feeder may be called none', async () => {
    const { study } = await danced('none');
    await writeFile(join(study.folder, 'feeders.csv'), 'feeder_id,distance_m\nreed,150\nnone,300\n');
    const wanted = /feeders\.csv, row 3, column feeder_id: found "none"; wanted another name/;
    await expect(readPlaces(study)).rejects.toThrow(wanted);
    const hive = { latitudeDeg: 51, longitudeDeg: 9 };
    await expect(readFeederPlaces(join(study.folder, 'feeders.csv'), hive)).rejects.toThrow(wanted);
  });

  const good = '2031-06-14T09:30:15';
  test.each([
    [
      'a comb angle of 720',
      `time,comb_angle_deg\n${good},720\n`,
      /row 2, column comb_angle_deg: found "720"; wanted degrees/,
    ],
    [
      'a comb angle of left',
      `time,comb_angle_deg\n${good},left\n`,
      /row 2, column comb_angle_deg: found "left"; wanted a number/,
    ],
    [
      'a time when nobody danced',
      'time,bee_id\n2031-06-14T09:35:30,a\n',
      /row 2, column time: .* when no dance was found; the nearest is hive-c2-d0001 \(09:33:21 to 09:33:28\)/,
    ],
    [
      'a time of two dances',
      'time,bee_id\n2031-06-14T09:33:22,a\n',
      /when (hive-d0003|hive-c2-d0001) \(09:33:2\d to 09:33:2\d\) and (hive-d0003|hive-c2-d0001) \(/,
    ],
    [
      'several rows that are wrong',
      `time,bee_id\nsoon,a\n${good},b\nlater,c\n`,
      /row 2, column time: found "soon".*\n.*row 4, column time: found "later"/,
    ],
    ['no time', 'time,bee_id\nsoon,a\n', /row 2, column time: found "soon"; wanted a date and time/],
    [
      'neither time nor id',
      'time,bee_id\n,a\n',
      /row 2, column time: found an empty cell; wanted a time, or a dance_id/,
    ],
    [
      'a column of neither',
      'bee_id\na\n',
      /header: found no column time, or dance_id \(columns: bee_id\); wanted the columns time, or dance_id/,
    ],
    [
      'no such dance',
      'dance_id,bee_id\nhive-d9,a\n',
      /column dance_id: found "hive-d9"; wanted a dance of the study/,
    ],
    [
      'no such feeder',
      `time,feeder_id\n${good},elm\n`,
      /column feeder_id: found "elm"; wanted a feeder of feeders\.csv, none for .* or - to/,
    ],
    [
      'two rows in one dance',
      `time,bee_id\n${good},a\n2031-06-14T09:30:19,b\n`,
      /row 3, column time: found "2031-06-14T09:30:19", in dance hive-d0001 \(09:30:10 to 09:30:23\), to which row 2 \("2031-06-14T09:30:15"\) goes already; wanted one row for each dance: if two were danced there, divide it on the page \(combtone review .*two rows in one dance: press the first run of the second on the ladder, its others with Shift, then Shift\+D\); if one was, leave out row 2 or row 3$/,
    ],
    [
      'a row in a dance and another shortly after it',
      `time,bee_id\n${good},a\n2031-06-14T09:30:31,b\n`,
      /found "2031-06-14T09:30:31", 8 s after dance hive-d0001 \(09:30:10 to 09:30:23\), to which row 2/,
    ],
    [
      'a row shortly before a dance and another in it',
      `time,bee_id\n2031-06-14T09:30:08,a\n${good},b\n`,
      /to which row 2 \("2031-06-14T09:30:08", 2 s before it\) goes already/,
    ],
    [
      'a dance by its time and by its id',
      `time,dance_id,bee_id\n${good},,a\n,hive-d0001,b\n`,
      /row 3, column dance_id: found dance hive-d0001 \(09:30:10 to 09:30:23\), to which row 2 \("2031-06-14T09:30:15"\) goes already; wanted/,
    ],
    [
      'a dance twice by its id',
      'dance_id,bee_id\nhive-d0001,a\nhive-d0001,b\n',
      /row 3, column dance_id: found dance hive-d0001 \(09:30:10 to 09:30:23\), to which row 2 goes already; wanted/,
    ],
    [
      'nothing noted',
      `time,bee_id\n${good},\n`,
      /row 2, column comb_angle_deg: found a row with nothing noted/,
    ],
  ])('with %s are refused, and nothing is written', async (name, content, wanted) => {
    const { study, view } = await danced(name);
    const before = lastEventId(study.store);
    await expect(notes(view, content)).rejects.toThrow(wanted);
    expect(lastEventId(study.store)).toBe(before);
  });
});
