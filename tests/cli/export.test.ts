import { copyFile, mkdir, readdir, readFile, symlink } from 'node:fs/promises';
import { beforeAll, describe, expect, test } from 'vitest';
import { registerExport } from '../../src/cli/export.ts';
import { registerStudy } from '../../src/cli/study.ts';
import { openRecording } from '../../src/recording/index.ts';
import { simulateHive } from '../../src/simulate/index.ts';
import { combtone, expectRefused, temporaryFolder } from './run-combtone.ts';
import { refusalOf } from './run-command.ts';

const at = temporaryFolder();
let study = '';

beforeAll(async () => {
  study = at('study');
  await mkdir(at('study/recordings'), { recursive: true });
  for (const [name, seed] of [
    ['one', 8101],
    ['two', 8102],
  ] as const) {
    const options = { seed, lengthS: 40, snrDb: 12, dancesPerHour: 300, startTime: '2031-06-14T09:30:00' };
    const { recordingPath } = await simulateHive(at('made'), name, options);
    await copyFile(recordingPath, `${study}/recordings/${name}.wav`);
  }
  await done(
    'study',
    'init',
    study,
    '--latitude',
    '51.2',
    '--longitude',
    '7.1',
    '--time-zone',
    'Europe/Berlin',
  );
  await done('study', 'add', study, `${study}/recordings/one.wav`, `${study}/recordings/two.wav`);
  await done('detect', '--study', study);
});

async function done(...args: string[]): Promise<string> {
  const ran = await combtone(...args);
  expect(ran).toMatchObject({ code: 0, stderr: '' });
  return ran.stdout;
}

/** What export says to a call that it refuses, without a process for each: how refusals end one, others test. */
const refusal = (...words: readonly string[]) => refusalOf(registerExport, ['export', ...words]);

describe('combtone export', () => {
  test('writes tables that study import makes a study of, from which the same tables come', async () => {
    expect(await done('export', '--study', study, '--out', at('tables'))).toMatch(
      /trains +\d+[\s\S]*Written: \d+ files/,
    );
    const told = JSON.parse(await done('study', 'import', at('again'), '--from', at('tables'), '--json'));
    expect(told).toMatchObject({ recordings: 2, changedRows: 0, events: 2 });
    await done('export', '--study', at('again'), '--out', at('tables again'));
    for (const name of await readdir(at('tables'))) {
      if (name === 'cues') continue;
      expect(await readFile(at(`tables again/${name}`), 'utf8')).toBe(
        await readFile(at(`tables/${name}`), 'utf8'),
      );
    }
    expectRefused(
      await combtone('study', 'import', at('again'), '--from', at('tables')),
      /again: found feeders\.csv or openings\.csv; wanted a folder without a study/,
    );
  });

  test('writes an excerpt with the sounds in it marked', async () => {
    const file = at('excerpt.wav');
    const call = ['export', '--study', study, '--recording', 'one', '--excerpt', '10-25', '--out', file];
    expect(await done(...call)).toMatch(
      /10 to 25 s of recordings\/one\.wav \(from 2031-06-14T09:30:10\.000\+02:00\), \d+ sounds/,
    );
    const { info, close } = await openRecording(file);
    await close();
    expect(info).toMatchObject({ durationS: 15, startTime: '2031-06-14T09:30:10', warnings: [] });
    expect((await readFile(file)).toString('latin1')).toMatch(
      /cue [\s\S]*LIST[\s\S]*adtllabl[\s\S]*one-t\d{4}: waggle run, one-d\d{4}/,
    );
  });

  test.each([
    [['--excerpt', '25-10', '--recording', 'one'], /--excerpt: found "25-10"; wanted two times/],
    [
      ['--excerpt', '10-50', '--recording', 'one'],
      /--excerpt: found 10-50; wanted a stretch within the 40\.000 s/,
    ],
    [
      ['--excerpt', '10-20'],
      /--recording: found 2 recordings; wanted one of: recordings\/one\.wav, recordings\/two\.wav/,
    ],
    [['--excerpt', '10-20', '--recording', 'three'], /--recording: found "three"; wanted one of/],
    [['--recording', 'one'], /--recording: found a recording without a stretch; wanted --excerpt/],
  ])('refuses %j', async (more, wanted) => {
    expect(await refusal('--study', study, '--out', at('no.wav'), ...more)).toMatch(wanted);
    expect(await readdir(at('.'))).not.toContain('no.wav');
  });

  test('no recording of the study is written over by an excerpt, of another recording and by a link neither', async () => {
    const two = await readFile(`${study}/recordings/two.wav`);
    await symlink(`${study}/recordings/two.wav`, at('link.wav'));
    const call = ['--study', study, '--recording', 'one', '--excerpt', '10-20', '--out'];
    for (const out of [`${study}/recordings/one.wav`, `${study}/recordings/two.wav`, at('link.wav')]) {
      expect(await refusal(...call, out)).toMatch(
        /found a recording of the study, for an excerpt; wanted a new/,
      );
    }
    expect((await readFile(`${study}/recordings/two.wav`)).equals(two)).toBe(true);
  });

  test('refuses a folder that cannot be made, a study that is none, tables that are none', async () => {
    const into = async (out: string) => combtone('export', '--study', study, '--out', `${study}/${out}`);
    expectRefused(await into('study.json'), /a file of a study; wanted a file of another name/);
    expectRefused(await into('recordings/two.wav'), /a place that cannot be made a folder/);
    expect(await refusal('--study', at('x'), '--out', at('y'))).toMatch(/no study\.json in it/);
    expect(await refusalOf(registerStudy, ['study', 'import', at('z'), '--from', at('x')])).toMatch(
      /settings\.json: found no such file/,
    );
    expect(await readdir(at('.'))).not.toContain('z');
  });
});
