import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { withOffset } from '../../src/bearing/local-time.ts';
import { importStudy } from '../../src/study/export/import-study.ts';
import { writeExport } from '../../src/study/export/write-export.ts';
import { type OpenStudy, openStudy, readPlaces, writeSettings } from '../../src/study/study-folder.ts';
import { studyView } from '../../src/study/study-view.ts';
import { zonedClockFrom } from '../../src/study/zoned-clock.ts';
import { detect, knownRecording, studyFolders, train } from './made-study.ts';

const zone = 'Europe/Berlin';

describe('clock times of a study', () => {
  test('have the offset of its zone, in summer and in winter', () => {
    expect(zonedClockFrom('2031-06-14T09:00:00', zone)(5.2171)).toBe('2031-06-14T09:00:05.217+02:00');
    expect(zonedClockFrom('2031-12-14T09:00:00', zone)(0)).toBe('2031-12-14T09:00:00.000+01:00');
    expect(zonedClockFrom('2031-06-14T09:00:00', 'America/St_Johns')(0)).toBe(
      '2031-06-14T09:00:00.000-02:30',
    );
  });

  test('go on over a change of the clocks as the clocks do', () => {
    // Clocks are put back from 03:00 to 02:00 on the last Sunday of October, and on from 02:00 in March.
    const autumn = zonedClockFrom('2031-10-26T01:30:00', zone);
    expect([1799, 3600, 7200].map((afterS) => autumn(afterS))).toEqual([
      '2031-10-26T01:59:59.000+02:00',
      '2031-10-26T02:30:00.000+02:00',
      '2031-10-26T02:30:00.000+01:00',
    ]);
    expect(zonedClockFrom('2031-03-30T01:30:00', zone)(3600)).toBe('2031-03-30T03:30:00.000+02:00');
  });

  test('stay without where the zone cannot tell, and keep an offset that is not the zone’s', () => {
    expect(zonedClockFrom('2031-06-14T09:00:00', null)(1)).toBe('2031-06-14T09:00:01.000');
    expect(zonedClockFrom('2031-10-26T02:30:00', zone)(1)).toBe('2031-10-26T02:30:01.000');
    expect(zonedClockFrom('2031-06-14T09:00:00+01:00', zone)(1)).toBe('2031-06-14T09:00:01.000+01:00');
    expect(zonedClockFrom(null, zone)(1)).toBeNull();
  });

  test('given by hand get it too', () => {
    expect(withOffset('2031-06-14 09:00', zone)).toBe('2031-06-14T09:00+02:00');
    expect(withOffset('2031-06-14T09:00Z', zone)).toBe('2031-06-14T09:00Z');
    expect(withOffset('2031-10-26T02:30', zone)).toBe('2031-10-26T02:30');
    expect(withOffset('2031-06-14T09:00', null)).toBe('2031-06-14T09:00');
  });
});

describe('the tables of a study whose zone is known', () => {
  const newStudy = studyFolders();
  let folder = '';
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'combtone-zoned-'));
  });
  afterAll(() => rm(folder, { recursive: true, force: true }));

  /** Recorded over the end of summer time, with a feeder open and a bee come to it. */
  const zoned = async (): Promise<OpenStudy> => {
    const made = await newStudy('zoned');
    const hive = { latitude: 51, longitude: 9, elevationM: null, timeZone: zone };
    await writeSettings(made.folder, { ...made.settings, hive });
    await writeFile(join(made.folder, 'feeders.csv'), 'feeder_id,distance_m\nreed,150\n');
    const span = '2031-10-26T01:00,2031-10-26T04:00:00+01:00';
    await writeFile(join(made.folder, 'openings.csv'), `feeder_id,start,end\nreed,${span}\n`);
    await writeFile(join(made.folder, 'arrivals.csv'), 'time,feeder_id,mark\n2031-10-26 01:45,reed,red\n');
    made.store.close();
    const study = await openStudy(made.folder);
    const recording = knownRecording(study.store, { startTime: '2031-10-26T01:30:00', durationS: 10_000 });
    detect(study.store, recording.id, [
      ...[0, 3, 6].map((startS) => train(startS, startS + 1, 0)),
      ...[7200, 7203, 7206].map((startS) => train(startS, startS + 1, 1)),
    ]);
    return study;
  };
  const exported = async (study: OpenStudy, to: string) =>
    writeExport(to, studyView(study, await readPlaces(study)));

  test('have it at every clock time, and are the same again after an import', async () => {
    const study = await zoned();
    const [one, two, again] = ['one', 'two', 'again'].map((name) => join(folder, name)) as [
      string,
      string,
      string,
    ];
    await exported(study, one);
    const read = (to: string, name: string) => readFile(join(to, name), 'utf8');
    const names = ['recordings', 'trains', 'dances', 'openings', 'arrivals', 'day_dances', 'day_arrivals'];
    for (const name of names) {
      const text = await read(one, `${name}.csv`);
      const times = text.match(/2031-10-26T[^,\n]*/g) ?? [];
      expect(times.length, name).toBeGreaterThan(0);
      for (const time of times) expect(time, name).toMatch(/\+0[12]:00$/);
    }
    expect(await read(one, 'trains.csv')).toContain('2031-10-26T02:30:00.000+01:00');
    expect(await read(one, 'recordings.csv')).toContain('2031-10-26T01:30:00+02:00');
    await importStudy(again, one);
    const imported = await openStudy(again);
    await exported(imported, two);
    imported.store.close();
    study.store.close();
    for (const name of names)
      expect(await read(two, `${name}.csv`), name).toBe(await read(one, `${name}.csv`));
  });
});
