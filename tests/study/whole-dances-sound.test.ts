import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { detectOverThreads } from '../../src/jobs/detect-over-threads.ts';
import { saveCalibration } from '../../src/study/store/calibrations.ts';
import { allRecordings } from '../../src/study/store/recordings.ts';
import { calibrateDances } from '../../src/study/study-calibration.ts';
import { detectStudy } from '../../src/study/study-detect.ts';
import { type DanceFinding, studyFindings } from '../../src/study/study-findings.ts';
import {
  initStudy,
  newSettings,
  type OpenStudy,
  openStudy,
  readPlaces,
} from '../../src/study/study-folder.ts';
import { addRecording } from '../../src/study/study-recordings.ts';
import { detectShard, mergeFound } from '../../src/study/study-shard.ts';
import { studyView } from '../../src/study/study-view.ts';
import { type CutDance, cutDance, writeCutDance } from './cut-dance.ts';
import { dancesToFeeders } from './made-study.ts';

let folder = '';
let sound: CutDance;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-across-'));
  sound = await cutDance();
}, 60_000);
afterAll(() => rm(folder, { recursive: true, force: true }));

/** A study of the sound, in one file or cut into two with so long a gap between them. */
async function studyOf(name: string, gapS: number | null): Promise<OpenStudy> {
  const study = join(folder, name);
  await initStudy(study, newSettings('across'));
  const open = await openStudy(study);
  for (const path of await writeCutDance(study, sound, gapS)) await addRecording(open, path);
  const record = calibrateDances(dancesToFeeders, { curve: 'line', runs: 'inner' });
  saveCalibration(open.store, { name: 'june', reviewer: 'ada', danceIds: [], record });
  return open;
}

const found = async (study: OpenStudy) => studyFindings(studyView(study, await readPlaces(study))).dances;
const acrossCut = (dances: readonly DanceFinding[]) =>
  dances.filter(({ dance }) => dance.startS < sound.cutS && dance.endS > sound.cutS);
const plain = (dances: readonly DanceFinding[]) =>
  dances.map(({ dance: { version: _, ...dance }, parts, estimated }) => [
    dance,
    parts.map(({ id }) => id),
    estimated?.row,
  ]);

test('a dance cut in two by the recorder is estimated as the whole one is', async () => {
  const [whole, cut] = [await studyOf('whole', null), await studyOf('cut', 0)];
  for (const study of [whole, cut]) await detectStudy(study);
  const [one, two] = [await found(whole), await found(cut)];
  expect(two).toHaveLength(one.length);
  const [before, after] = [acrossCut(one)[0]!, acrossCut(two)[0]!];
  expect(after.parts).toHaveLength(2);
  expect(after.dance.runCount).toBe(before.dance.runCount);
  expect(after.dance.meanDurationS!).toBeCloseTo(before.dance.meanDurationS!, 1.7);
  expect(after.estimated!.row.distance_m! / before.estimated!.row.distance_m!).toBeCloseTo(1, 1);
  expect(after.dance.circuitsPer15s! / before.dance.circuitsPer15s!).toBeCloseTo(1, 1);
  whole.store.close();
  cut.store.close();
}, 120_000);

test('it is the same however the files were searched: in turn, backwards, by shards, on two threads, one of them again', async () => {
  const studies = [];
  for (const name of ['in turn', 'backwards', 'shards', 'threads']) studies.push(await studyOf(name, 0));
  const [inTurn, backwards, shards, threads] = studies as [OpenStudy, OpenStudy, OpenStudy, OpenStudy];
  await detectStudy(inTurn);
  await detectStudy(backwards, { recordings: allRecordings(backwards.store).toReversed() });
  for (const number of [2, 1]) await detectShard(shards, { number, count: 2 });
  await mergeFound(shards);
  // However short the recordings are.
  await detectStudy(threads, { detectAll: detectOverThreads(2, 0) });
  const wanted = plain(await found(inTurn));
  expect(wanted.some(([, parts]) => (parts as string[]).length === 2)).toBe(true);
  expect(plain(await found(backwards))).toEqual(wanted);
  expect(plain(await found(shards))).toEqual(wanted);
  expect(plain(await found(threads))).toEqual(wanted);
  const [, second] = allRecordings(inTurn.store);
  await detectStudy(inTurn, { recordings: [second!], leastConfidence: 0.6 });
  await detectStudy(inTurn, { recordings: [second!] });
  expect(plain(await found(inTurn))).toEqual(wanted);
  for (const { store } of studies) store.close();
}, 120_000);

test('with a gap too long for a return phase it stays two', async () => {
  const study = await studyOf('apart', 20);
  await detectStudy(study);
  expect((await found(study)).every(({ parts }) => parts.length === 1)).toBe(true);
  study.store.close();
}, 120_000);
