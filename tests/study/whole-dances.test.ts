import { describe, expect, test } from 'vitest';
import { danceLinks } from '../../src/study/dance-links.ts';
import { exportTables } from '../../src/study/export/rows.ts';
import { saveCalibration } from '../../src/study/store/calibrations.ts';
import type { DetectedSound } from '../../src/study/store/detections.ts';
import { stateNow } from '../../src/study/store/state.ts';
import { calibrateDances } from '../../src/study/study-calibration.ts';
import { studyFindings } from '../../src/study/study-findings.ts';
import type { OpenStudy } from '../../src/study/study-folder.ts';
import { dancesAtFeeders, dancesWithoutFeeder } from '../../src/study/study-observations.ts';
import { studyView } from '../../src/study/study-view.ts';
import { listWholeDances, observedDance, wholeDance } from '../../src/study/whole-dances.ts';
import { dancesToFeeders, detect, edit, knownRecording, now, studyFolders, train } from './made-study.ts';

const newStudy = studyFolders();
const noPlaces = { feeders: [], openings: [] };
const view = (study: OpenStudy) => studyView(study, noPlaces);

/** Ten runs of 0.8 s, one every 3 s, the first at 582.5 s. */
const runs = Array.from({ length: 10 }, (_, k) => ({
  startS: 582.5 + 3 * k,
  endS: 583.3 + 3 * k + 0.01 * k,
}));
const trains = (
  from: readonly { startS: number; endS: number }[],
  dance: number,
  more: Partial<DetectedSound> = {},
) => from.map(({ startS, endS }) => train(startS, endS, dance, more));
const earlier = (before: number) => runs.filter(({ startS }) => startS < before);
/** Runs after a cut, on the clock of a file that begins then. */
const later = (from: number) =>
  runs
    .filter(({ startS }) => startS >= from)
    .map(({ startS, endS }) => ({
      startS: Number((startS - from).toFixed(4)),
      endS: Number((endS - from).toFixed(4)),
    }));

const first = { stem: 'hive-1', durationS: 600, startTime: '2031-06-14T09:30:00' };
const second = { stem: 'hive-2', durationS: 600, startTime: '2031-06-14T09:40:00' };

/** The dance in one file, or cut into two at 600 s. */
async function studyWith(name: string, files: readonly (readonly [object, readonly DetectedSound[]])[]) {
  const study = await newStudy(name);
  for (const [given, sounds] of files) detect(study.store, knownRecording(study.store, given).id, sounds);
  return study;
}
const uncut = (name: string) => studyWith(name, [[{ ...first, durationS: 1200 }, trains(runs, 0)]]);
const cut = (name: string, more: Partial<DetectedSound> = {}, startTime = second.startTime) =>
  studyWith(name, [
    [first, trains(earlier(600), 0)],
    [{ ...second, startTime }, trains(later(600), 0, more)],
  ]);

describe('a dance that goes on in the next file', () => {
  test('is one dance, with the runs, times and circuits of the same dance in one file', async () => {
    const [one] = listWholeDances(view(await uncut('uncut')));
    const whole = listWholeDances(view(await cut('cut')));
    expect(whole).toHaveLength(1);
    const [{ dance, parts }] = whole as [(typeof whole)[number]];
    expect(parts.map(({ id, runCount }) => [id, runCount])).toEqual([
      ['hive-1-d0001', 6],
      ['hive-2-d0001', 4],
    ]);
    const { recordingId: _, id: __, ...likeUncut } = one!.dance;
    // The return phase across the cut hangs on two clocks.
    const meanReturnS = expect.closeTo(one!.dance.meanReturnS!, 2);
    expect(dance).toMatchObject({
      ...likeUncut,
      meanReturnS,
      id: 'hive-1-d0001',
      version: expect.any(Number),
    });
  });

  test('is estimated, and calibrated on, once and as in one file', async () => {
    const studies = [await uncut('uncut estimate'), await cut('cut estimate')];
    const record = calibrateDances(dancesToFeeders, { curve: 'line', runs: 'inner' });
    for (const { store } of studies)
      saveCalibration(store, { name: 'june', reviewer: 'ada', danceIds: [], record });
    const [one, two] = studies.map((study) =>
      studyFindings(view(study)).dances.map(({ estimated }) => estimated!.row),
    );
    expect(two).toHaveLength(1);
    const { dance_id: _, circuits_per_15s: __, ...asOne } = one![0]!;
    expect(two![0]).toMatchObject(asOne);
    const observed = dancesWithoutFeeder(view(studies[1]!)).observed;
    expect(observed).toHaveLength(1);
    expect(observed[0]!.durationsS).toHaveLength(10);
    // The circuit across the cut hangs on two clocks.
    expect(observed[0]!.circuitsPer15s).toEqual([5, 5, 5, 5, 5, null, 5, 5, 5, null]);
    const asked = dancesAtFeeders(view(studies[1]!), ['hive-2-d0001', 'hive-1-d0001']);
    expect(asked.leftOut).toEqual([{ danceId: 'hive-1-d0001', reason: 'no feeder' }]);
  });

  test('has a row for each part in the exported dances, and is told of once', async () => {
    const study = await cut('cut export');
    const seen = view(study);
    const findings = studyFindings(seen);
    const tables = exportTables(seen, findings, { places: noPlaces, arrivals: [] });
    expect([...tables.dances].map((row) => [row.dance_id, row.run_count, row.part_of])).toEqual([
      ['hive-1-d0001', 6, null],
      ['hive-2-d0001', 4, 'hive-1-d0001'],
    ]);
    expect([...tables.day_dances].map((row) => [row.dance_id, row.run_count])).toEqual([
      ['hive-1-d0001', 10],
    ]);
  });

  test('counts a run that the cut went through once, and does not use its length', async () => {
    const halves = (name: string) =>
      studyWith(name, [
        [
          { ...first, durationS: 600.5, startTime: '2031-06-14T09:30:00.000' },
          trains([...earlier(600), { startS: 600, endS: 600.49 }], 0),
        ],
        [
          { ...second, startTime: '2031-06-14T09:40:00.500' },
          trains(
            [
              { startS: 0.01, endS: 0.36 },
              ...later(603).map(({ startS, endS }) => ({ startS: startS + 2.5, endS: endS + 2.5 })),
            ],
            0,
          ),
        ],
      ]);
    const seen = view(await halves('halves'));
    const [whole] = listWholeDances(seen);
    expect(whole!.parts).toHaveLength(2);
    expect(whole!.dance).toMatchObject({ runCount: 10, usedRuns: 7 });
    const observed = observedDance(seen, whole!)!;
    expect(observed.durationsS[6]).toBeNull();
    expect(observed.durationsS.filter((durationS) => durationS === null)).toHaveLength(1);
  });

  test('goes on through a file that is shorter than it', async () => {
    const study = await studyWith('three', [
      [first, trains(earlier(600), 0)],
      [{ ...second, durationS: 6 }, trains(later(600).slice(0, 2), 0)],
      [{ ...second, stem: 'hive-3', startTime: '2031-06-14T09:40:06' }, trains(later(606), 0)],
    ]);
    const seen = view(study);
    expect(listWholeDances(seen).map(({ parts }) => parts.map(({ id }) => id))).toEqual([
      ['hive-1-d0001', 'hive-2-d0001', 'hive-3-d0001'],
    ]);
    for (const id of ['hive-1-d0001', 'hive-2-d0001', 'hive-3-d0001'])
      expect(wholeDance(seen, id)!.dance).toEqual(listWholeDances(seen)[0]!.dance);
    expect(listWholeDances(seen)[0]!.dance).toMatchObject({ runCount: 10, startS: 582.5, endS: 610.39 });
  });

  test('is the same whichever file was searched first, and when one of them is searched again', async () => {
    const one = await cut('in order');
    const study = await newStudy('backwards');
    const ids = [first, second].map((given) => knownRecording(study.store, given).id);
    detect(study.store, ids[1]!, trains(later(600), 0));
    expect(danceLinks(study.store, null).size).toBe(0);
    detect(study.store, ids[0]!, trains(earlier(600), 0));
    const wholes = (from: OpenStudy) =>
      listWholeDances(view(from)).map(({ dance: { version: _, ...dance }, parts }) => [
        dance,
        parts.map(({ id }) => id),
      ]);
    expect(wholes(study)).toEqual(wholes(one));
    const before = wholes(study);
    for (const id of ids) {
      detect(study.store, id, trains(id === ids[0] ? earlier(600) : later(600), 0), 'again');
      expect(wholes(study)).toEqual(before);
    }
    // Found otherwise, it is no longer one; found as before, it is again.
    const seen = view(study);
    detect(study.store, ids[1]!, trains(later(600), 0, { carrierHz: 300 }), 'other');
    expect(listWholeDances(seen)).toHaveLength(2);
    detect(study.store, ids[1]!, trains(later(600), 0), 'as before');
    expect(listWholeDances(seen)).toHaveLength(1);
  });
});

describe('dances in consecutive files stay two', () => {
  test.each([
    ['with too long a gap', {}, '2031-06-14T09:40:13'],
    ['with a gap that overlaps', {}, '2031-06-14T09:39:57'],
    ['with another carrier', { carrierHz: 285 }, second.startTime],
    ['with another beat', { pulseRateHz: 12 }, second.startTime],
    ['on another channel', { channel: 2 }, second.startTime],
  ])('%s', async (name, more, startTime) => {
    expect(listWholeDances(view(await cut(name, more, startTime)))).toHaveLength(2);
  });

  test('of which reviewers noted two bees; and when runs are rejected that joined them', async () => {
    const study = await cut('two bees');
    const noted = (id: string, beeId: string | null) =>
      edit(study.store, {
        kind: 'dance',
        target: { id, version: stateNow(study.store).dances.get(id)!.version },
        changes: { beeId },
      });
    noted('hive-2-d0001', 'red-7');
    const seen = view(study);
    expect(listWholeDances(seen).map(({ dance }) => dance.beeId)).toEqual(['red-7']);
    noted('hive-1-d0001', 'blue-2');
    expect(listWholeDances(seen).map(({ dance }) => dance.beeId)).toEqual(['blue-2', 'red-7']);
    noted('hive-1-d0001', 'red-7');
    expect(listWholeDances(seen)).toHaveLength(1);
    const last = ['hive-1-t0003', 'hive-1-t0004', 'hive-1-t0005', 'hive-1-t0006'];
    edit(study.store, { kind: 'reject', targets: last.map((id) => now(study.store, id)) });
    expect(listWholeDances(seen)).toHaveLength(2);
  });

  test('a gap of a few seconds is bridged, as an unheard run is within a file', async () => {
    const study = await studyWith('gap', [
      [first, trains(earlier(600), 0)],
      [
        { ...second, startTime: '2031-06-14T09:40:04' },
        trains(
          later(600)
            .slice(2)
            .map(({ startS, endS }) => ({ startS: startS - 4, endS: endS - 4 })),
          0,
        ),
      ],
    ]);
    const [whole, ...others] = listWholeDances(view(study));
    expect(others).toEqual([]);
    expect(whole!.dance).toMatchObject({ runCount: 8, endS: runs[9]!.endS });
  });
});
