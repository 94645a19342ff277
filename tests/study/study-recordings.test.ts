import { copyFile, mkdir, readFile, rename, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { writeWave } from '../../src/recording/index.ts';
import { allRecordings } from '../../src/study/store/recordings.ts';
import { isDetected, searchSettings, settingsHash } from '../../src/study/study-detect.ts';
import type { OpenStudy } from '../../src/study/study-folder.ts';
import { addRecording, locateRecording, requireRecording } from '../../src/study/study-recordings.ts';
import { detect, studyFolders } from './made-study.ts';

const newStudy = studyFolders();

async function noise(study: OpenStudy, name: string, level: number): Promise<string> {
  const path = join(study.folder, name);
  const samples = Float32Array.from({ length: 8000 }, (_, n) => level * Math.sin(n * n));
  await writeWave(path, { sampleRateHz: 8000, encoding: 'pcm16', channels: [samples] });
  return path;
}

test('a recording is its bytes: under another name it is known, elsewhere it is found again', async () => {
  const study = await newStudy('moved');
  const first = await noise(study, 'hive.wav', 0.1);
  expect(await addRecording(study, first)).toMatchObject({
    outcome: 'added',
    recording: { path: 'hive.wav' },
  });
  await copyFile(first, join(study.folder, 'copy.wav'));
  expect(await addRecording(study, join(study.folder, 'copy.wav'))).toMatchObject({ outcome: 'known' });
  await rm(join(study.folder, 'copy.wav'));
  await mkdir(join(study.folder, 'a', 'b'), { recursive: true });
  await rename(first, join(study.folder, 'a', 'b', 'other.wav'));
  const [recording] = allRecordings(study.store);
  expect(await locateRecording(study, recording!)).toBe(join(study.folder, 'a', 'b', 'other.wav'));
  expect(allRecordings(study.store)).toMatchObject([{ path: 'a/b/other.wav', stem: 'hive' }]);
});

test('a file of the same length with other bytes is not taken for the recording', async () => {
  const study = await newStudy('changed');
  const path = await noise(study, 'hive.wav', 0.1);
  const { recording } = await addRecording(study, path);
  const bytes = await readFile(path);
  bytes[5000]! ^= 1;
  await writeFile(path, bytes);
  expect(await locateRecording(study, recording)).toBeNull();
  await expect(requireRecording(study, recording)).rejects.toThrow(/one with other bytes than were added/);
  expect(await addRecording(study, path)).toMatchObject({ outcome: 'added', recording: { stem: 'hive-2' } });
});

test('a detection is known by its settings, in whatever order they are named', async () => {
  const study = await newStudy('settings');
  const { recording } = await addRecording(study, await noise(study, 'hive.wav', 0.1));
  const settings = searchSettings(study, {});
  expect(settings).toMatchObject({ bandLowHz: 200, bandHighHz: 400, channels: [] });
  const turned = Object.fromEntries(Object.entries(settings).reverse()) as typeof settings;
  expect(settingsHash(turned)).toBe(settingsHash(settings));
  const other = searchSettings(study, { band: [180, 400], channels: [2, 1] });
  expect(other).toMatchObject({ bandLowHz: 180, channels: [1, 2] });
  expect(settingsHash(other)).not.toBe(settingsHash(settings));
  expect(isDetected(study, recording.id, settings)).toBe(false);
  detect(study.store, recording.id, [], settingsHash(settings));
  // Of another version of the program: to be done again.
  expect(isDetected(study, recording.id, settings)).toBe(false);
});

test('a start given later is set, corrected with a note of what it was, and outdone by the file’s name', async () => {
  const study = await newStudy('started');
  const path = await noise(study, 'hive.wav', 0.1);
  const now = () => allRecordings(study.store).map(({ startTime, warnings }) => ({ startTime, warnings }));
  await addRecording(study, path);
  expect(now()).toEqual([{ startTime: null, warnings: [] }]);
  const [nine, ten, noon] = ['09:00', '10:00', '12:00'].map((time) => `2031-06-14T${time}:00`) as [
    string,
    string,
    string,
  ];
  expect(await addRecording(study, path, nine)).toMatchObject({ outcome: 'known', startWas: null });
  expect(now()).toEqual([{ startTime: nine, warnings: [] }]);
  expect(await addRecording(study, path, nine)).not.toHaveProperty('startWas');
  expect(await addRecording(study, path)).not.toHaveProperty('startWas');
  expect(await addRecording(study, path, ten)).toMatchObject({
    startWas: nine,
    recording: { startTime: ten },
  });
  await addRecording(study, path, noon);
  const warnings = [`start corrected from ${nine} to ${ten}`, `start corrected from ${ten} to ${noon}`];
  expect(now()).toEqual([{ startTime: noon, warnings }]);
  const named = await noise(study, 'hive-20310615_080000.wav', 0.2);
  await addRecording(study, named);
  const again = await addRecording(study, named, nine);
  expect(again).not.toHaveProperty('startWas');
  expect(again.recording).toMatchObject({
    startTime: '2031-06-15T08:00:00',
    warnings: [expect.stringMatching(/is taken from the file name; the start time given, .*, is not used/)],
  });
});
