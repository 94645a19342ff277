import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { detectInTurn } from '../../src/study/detect-all.ts';
import { detectStudy } from '../../src/study/study-detect.ts';
import { addRecording } from '../../src/study/study-recordings.ts';
import { studyDetectionText } from '../../src/study/study-text.ts';
import { simulatedSound } from '../server/served-study.ts';
import { studyFolders } from './made-study.ts';

const newStudy = studyFolders();
let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-meanwhile-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

test('of two detections at once the slower says what the other did', async () => {
  const study = await newStudy('two');
  await addRecording(study, await simulatedSound(folder, 'hive', 8101, 20));
  const slower = await detectStudy(study, {
    detectAll: async function* (tasks, how) {
      const faster = await detectStudy(study);
      expect(faster).toMatchObject({ already: 0, meanwhile: 0 });
      expect(faster.done).toHaveLength(1);
      yield* detectInTurn(tasks, how);
    },
  });
  expect(slower).toMatchObject({ done: [], already: 0, meanwhile: 1, left: 0 });
  expect(studyDetectionText(slower.done, slower.already, slower.meanwhile)).toBe(
    '0 recordings detected, 0 had been before, with these settings; 1 was done by another call meanwhile, and kept',
  );
  expect(studyDetectionText([], 3)).toMatch(/with these settings$/);
});
