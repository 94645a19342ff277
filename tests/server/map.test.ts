import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { keptEstimates } from '../../src/server/kept-estimates.ts';
import map from '../../src/server/map-worker.ts';
import { estimates } from '../../src/study/estimates.ts';
import { calibrationNamed, saveCalibration } from '../../src/study/store/calibrations.ts';
import { danceById, stateNow } from '../../src/study/store/state.ts';
import { calibrateDances } from '../../src/study/study-calibration.ts';
import { studyFindings } from '../../src/study/study-findings.ts';
import {
  initStudy,
  newSettings,
  type OpenStudy,
  openStudy,
  readPlaces,
} from '../../src/study/study-folder.ts';
import { studyMapView } from '../../src/study/study-map-view.ts';
import { observationsOfStudy } from '../../src/study/study-observations.ts';
import { studyView } from '../../src/study/study-view.ts';
import { listWholeDances, observedDance } from '../../src/study/whole-dances.ts';
import { edit, now } from '../study/made-study.ts';
import { sunnyStudy } from '../study/sunny-study.ts';

let parent = '';
let study: OpenStudy;
const view = async () => studyView(study, await readPlaces(study));
const calibrate = async (curve: 'line' | 'power') => {
  const { observations } = observationsOfStudy(await view(), false);
  const record = calibrateDances(observations.dances, { curve, runs: 'inner' });
  const danceIds = observations.dances.map(({ danceId }) => danceId);
  saveCalibration(study.store, { name: curve, reviewer: 'ada', danceIds, record });
};

beforeAll(async () => {
  parent = await mkdtemp(join(tmpdir(), 'combtone-map-'));
  await initStudy(join(parent, 'study'), newSettings('map'));
  study = await sunnyStudy(await openStudy(join(parent, 'study')));
  await calibrate('line');
});
afterAll(async () => {
  study.store.close();
  await rm(parent, { recursive: true, force: true });
});

test('a map made with what was kept is the map made afresh, after every change', async () => {
  const same = async () => {
    const made = await map({ folder: study.folder, filter: {}, weight: 'dances' });
    const fresh = studyMapView(study, studyFindings(await view()), {}, 'dances');
    expect(made).toEqual({ ok: true, view: fresh });
    return fresh;
  };
  const first = await same();
  expect(first.dances).toHaveLength(6);
  expect(await same()).toEqual(first);
  const [{ danceId }] = first.dances as [(typeof first.dances)[0]];
  const angle = danceById(study.store, danceId)!;
  edit(study.store, {
    kind: 'dance',
    target: { id: danceId, version: angle.version },
    changes: { combAngleDeg: (angle.combAngleDeg! + 90) % 360 },
  });
  const turned = await same();
  expect(turned.regions).not.toEqual(first.regions);
  const run = [...stateNow(study.store).sounds.values()].filter((sound) => sound.danceId === danceId)[3]!;
  edit(study.store, {
    kind: 'times',
    target: now(study.store, run.id),
    startS: run.startS,
    endS: run.endS + 0.4,
  });
  const longer = await same();
  const distance = ({ dances }: typeof first) => dances.find((one) => one.danceId === danceId)!.distanceM;
  expect(distance(longer)).toBeGreaterThan(distance(turned));
  await calibrate('power');
  expect((await same()).calibration).toBe('power');
});

test('a dance is estimated once until it changes, and those at feeders not at all', async () => {
  const seen = await view();
  const dances = listWholeDances(seen).flatMap((dance) => observedDance(seen, dance) ?? []);
  const unfed = dances.filter(({ distanceM }) => distanceM === null);
  expect([unfed.length, dances.length]).toEqual([6, 24]);
  const { record } = calibrationNamed(study.store)!;
  const tell = keptEstimates();
  const first = tell(record, dances, 0.95);
  expect(first).toEqual(estimates(record, unfed, 0.95));
  const again = tell(record, dances, 0.95);
  again.forEach((told, k) => {
    expect(told).toBe(first[k]);
  });
  const moved = unfed.map((dance, k) => (k === 0 ? { ...dance, durationsS: [0.9, 0.9, 0.9] } : dance));
  const other = tell(record, moved, 0.95);
  expect(other.map((told, k) => told === first[k])).toEqual([false, true, true, true, true, true]);
  expect(tell(record, dances, 0.5)).toEqual(estimates(record, unfed, 0.5));
  const changed = { ...record, warnings: ['another'] };
  expect(tell(changed, dances, 0.95).some((told) => first.includes(told))).toBe(false);
  // No more is kept than was allowed.
  const few = keptEstimates(2);
  const [one] = few(record, unfed.slice(0, 1), 0.95);
  few(record, unfed.slice(1, 3), 0.95);
  expect(few(record, unfed.slice(0, 1), 0.95)[0]).not.toBe(one);
});

test('a dance of another treatment than the curve’s is on the map where its treatment is chosen, and not before', async () => {
  const before = studyMapView(study, studyFindings(await view()), {}, 'dances').dances.length;
  const id = 'hive-d0004';
  const target = { id, version: danceById(study.store, id)!.version };
  edit(study.store, { kind: 'dance', target, changes: { treatment: 'loaded' } });
  const findings = studyFindings(await view());
  const all = studyMapView(study, findings, {}, 'dances');
  expect(all.dances).toHaveLength(before - 1);
  expect(all.leftOut).toEqual([
    {
      danceId: id,
      reason: expect.stringMatching(/^of treatment loaded, estimated by the curve of untreated/),
    },
  ]);
  const chosen = studyMapView(study, findings, { treatment: 'loaded' }, 'dances');
  expect(chosen.dances.map(({ danceId }) => danceId)).toEqual([id]);
});
