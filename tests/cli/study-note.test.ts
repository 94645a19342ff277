import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { registerStudy } from '../../src/cli/study.ts';
import { detect, knownRecording, studyFolders, train } from '../study/made-study.ts';
import { runCommand } from './run-command.ts';

const newStudy = studyFolders();

test('many notes are told in one line with the first three, and --json names all', async () => {
  const { folder, store } = await newStudy('many');
  const trains = [0, 1, 2, 3, 4].flatMap((dance) =>
    [0, 1, 2].map((run) => train(60 * dance + 3 * run, 60 * dance + 3 * run + 1, dance)),
  );
  detect(store, knownRecording(store).id, trains);
  const note = async (ids: readonly number[], ...more: string[]) => {
    const file = join(folder, 'notes.csv');
    await writeFile(file, `dance_id,bee_id\n${ids.map((id) => `hive-d000${id},red\n`).join('')}`);
    return runCommand(registerStudy, ['study', 'note', folder, '--from', file, '--reviewer', 'ada', ...more]);
  };
  expect((await note([1, 2, 3, 4, 5])).split('\n\nNext:')[0]).toBe(
    '5 dances noted: row 2 hive-d0001, row 3 hive-d0002, row 4 hive-d0003 and 2 more; --json names all',
  );
  expect((await note([4])).split('\n\nNext:')[0]).toBe('1 dance noted: row 2 hive-d0004');
  const all = JSON.parse(await note([1, 2, 3, 4, 5], '--json')) as { danceId: string }[];
  expect(all.map(({ danceId }) => danceId)).toEqual([1, 2, 3, 4, 5].map((id) => `hive-d000${id}`));
});
