import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test, vi } from 'vitest';
import { registerStudy } from '../../src/cli/study.ts';
import { lastEventId } from '../../src/study/store/events.ts';
import { detect, knownRecording, studyFolders, train } from '../study/made-study.ts';
import { refusalOf, runCommand } from './run-command.ts';

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

test('what had been noted otherwise is told; - takes a note back, an empty cell changes nothing', async () => {
  const { folder, store } = await newStudy('otherwise');
  detect(
    store,
    knownRecording(store).id,
    [0, 1, 2].map((run) => train(3 * run, 3 * run + 1, 0)),
  );
  await writeFile(
    join(folder, 'feeders.csv'),
    'feeder_id,distance_m,bearing_deg\ncedar,300,10\nbirch,500,20\n',
  );
  const note = async (cells: string) => {
    const file = join(folder, 'notes.csv');
    await writeFile(file, `dance_id,bee_id,feeder_id,treatment\nhive-d0001,${cells}\n`);
    const told = await runCommand(registerStudy, [
      'study',
      'note',
      folder,
      '--from',
      file,
      '--reviewer',
      'ada',
    ]);
    const dance = store.prepare('SELECT * FROM dances').get() as Record<string, unknown>;
    return { told: told.split('\n\nNext:')[0]!.split('\n'), dance };
  };
  expect((await note('red,cedar,loaded')).told).toEqual(['1 dance noted: row 2 hive-d0001']);
  expect((await note('red,birch,')).told[1]).toBe(
    'Noted otherwise before: hive-d0001 feeder cedar -> birch (undo on the page takes it back)',
  );
  const back = await note('-,-,-');
  expect(back.told[1]).toBe(
    'Noted otherwise before: hive-d0001 bee red -> none; hive-d0001 feeder birch -> by openings.csv; ' +
      'hive-d0001 treatment loaded -> none (undo on the page takes it back)',
  );
  expect(back.dance).toMatchObject({ bee_id: null, feeder_id: null, treatment: null });
  expect(back.dance.feeder_source).not.toBe('reviewer');
});

test('where rows are refused each is told why, the others are named as fine, and nothing is written', async () => {
  const { folder, store } = await newStudy('refused');
  const trains = [0, 1, 2, 3, 4].flatMap((dance) =>
    [0, 1, 2].map((run) => train(60 * dance + 3 * run, 60 * dance + 3 * run + 1, dance)),
  );
  detect(store, knownRecording(store).id, trains);
  const before = lastEventId(store);
  const told = vi.spyOn(process.stderr, 'write').mockReturnValue(true);
  const note = async (ids: readonly number[]) => {
    told.mockClear();
    const file = join(folder, 'notes.csv');
    await writeFile(file, `dance_id,bee_id\n${ids.map((id) => `hive-d000${id},red\n`).join('')}`);
    const args = ['study', 'note', folder, '--from', file, '--reviewer', 'ada'];
    const refusal = await refusalOf(registerStudy, args);
    return { refusal, lines: told.mock.calls.map(([text]) => String(text)) };
  };
  const two = await note([1, 2, 2, 3, 8, 4, 5]);
  expect(two.lines).toEqual([
    expect.stringMatching(
      /^combtone: .*notes\.csv, row 4, column dance_id: found dance hive-d0002, to which row 3 goes already; .*\n$/,
    ),
    expect.stringMatching(/^combtone: .*notes\.csv, row 6, column dance_id: found "hive-d0008"; .*\n$/),
  ]);
  expect(two.refusal).toMatch(
    /notes\.csv: found 2 rows that cannot be noted as they are \(4 and 6\), so that nothing was noted; wanted them mended or left out: the other 5 rows are fine \(2, 3, 5, 7 and 8\)$/,
  );
  expect((await note([1, 1])).refusal).toMatch(
    /found 1 row that cannot be noted as it is \(3\), .*; wanted it mended or left out: the other row is fine \(2\)$/,
  );
  expect((await note([9])).refusal).toMatch(/found 1 row that .*; wanted it mended$/);
  expect((await note([8, 1, 2, 3, 4, 5, 9])).refusal).toMatch(/are fine \(3 to 7\)$/);
  expect(lastEventId(store)).toBe(before);
  told.mockRestore();
});
