import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { writeWave } from '../../src/recording/index.ts';
import { simulateSound } from '../../src/simulate/index.ts';
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
import { dancesToFeeders } from './made-study.ts';

const RATE_HZ = 8000;
let folder = '';
let samples: Float32Array;
/** Whole second, between two runs of a dance, at which the recorder begins another file. */
let cutS = 0;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-across-'));
  const options = {
    seed: 8310,
    lengthS: 100,
    sampleRateHz: RATE_HZ,
    snrDb: 12,
    dancesPerHour: 120,
    maxConcurrent: 1,
  };
  const { channels, truth } = await simulateSound(options);
  samples = channels[0]!;
  const runsOf = (danceId: string) => truth.trains.filter(({ dance_id }) => dance_id === danceId);
  const longest = truth.dances.toSorted((a, b) => b.run_count - a.run_count)[0]!;
  const runs = runsOf(longest.dance_id);
  const seconds = Array.from({ length: 100 }, (_, k) => k).filter((second) => {
    const before = runs.filter(({ end_s }) => end_s < second - 0.3).length;
    const after = runs.filter(({ start_s }) => start_s > second + 0.3).length;
    return before >= 3 && after >= 3 && before + after === runs.length;
  });
  cutS = seconds[seconds.length >> 1]!;
}, 60_000);
afterAll(() => rm(folder, { recursive: true, force: true }));

/** A study of the sound, in one file or cut into two with so long a gap between them. */
async function studyOf(name: string, gapS: number | null): Promise<OpenStudy> {
  const at = (second: number) => {
    const time = new Date(Date.UTC(2031, 5, 14, 9, 30, second)).toISOString();
    return `hive-${time.slice(0, 10).replaceAll('-', '')}_${time.slice(11, 19).replaceAll(':', '')}.wav`;
  };
  const study = join(folder, name);
  await initStudy(study, newSettings('across'));
  const open = await openStudy(study);
  const files =
    gapS === null
      ? [[at(0), samples] as const]
      : [
          [at(0), samples.subarray(0, cutS * RATE_HZ)] as const,
          [at(cutS + gapS), samples.subarray(cutS * RATE_HZ)] as const,
        ];
  for (const [file, channel] of files) {
    const path = join(study, file);
    await writeWave(path, { sampleRateHz: RATE_HZ, encoding: 'pcm16', channels: [channel] });
    await addRecording(open, path);
  }
  const record = calibrateDances(dancesToFeeders, { curve: 'line', runs: 'inner' });
  saveCalibration(open.store, { name: 'june', reviewer: 'ada', danceIds: [], record });
  return open;
}

const found = async (study: OpenStudy) => studyFindings(studyView(study, await readPlaces(study))).dances;
const acrossCut = (dances: readonly DanceFinding[]) =>
  dances.filter(({ dance }) => dance.startS < cutS && dance.endS > cutS);
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

test('it is the same however the files were searched: in turn, backwards, by shards, one of them again', async () => {
  const studies = [];
  for (const name of ['in turn', 'backwards', 'shards']) studies.push(await studyOf(name, 0));
  const [inTurn, backwards, shards] = studies as [OpenStudy, OpenStudy, OpenStudy];
  await detectStudy(inTurn);
  await detectStudy(backwards, { recordings: allRecordings(backwards.store).toReversed() });
  for (const number of [2, 1]) await detectShard(shards, { number, count: 2 });
  await mergeFound(shards);
  const wanted = plain(await found(inTurn));
  expect(wanted.some(([, parts]) => (parts as string[]).length === 2)).toBe(true);
  expect(plain(await found(backwards))).toEqual(wanted);
  expect(plain(await found(shards))).toEqual(wanted);
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
