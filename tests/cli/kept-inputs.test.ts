import { copyFile, mkdir, readFile, symlink, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { combtone, expectRefused, temporaryFolder } from './run-combtone.ts';

const at = temporaryFolder();
const TABLE = 'bee_id,dance_id,distance_m,duration_s\nred-1,d1,100,0.31\n';

describe('what a call reads is never written over', () => {
  test.each([
    ['--observations', (runs: string) => ['calibrate', '--observations', runs, '--out', runs]],
    [
      '--calibration',
      (runs: string) => ['estimate', '--observations', 'o.csv', '--calibration', runs, '--out', runs],
    ],
    [
      '--observations',
      (runs: string) => ['estimate', '--calibration', 'c.json', '--observations', runs, '--posteriors', runs],
    ],
    ['recording', (runs: string) => ['detect', 'other.wav', runs, '--out', runs]],
  ])('by %s and by an option that writes', async (name, call) => {
    const runs = at('runs.csv');
    await writeFile(runs, TABLE);
    const wanted = new RegExp(
      `^combtone: --(out|posteriors): found .*runs.csv, given as ${name} too; wanted a file of`,
    );
    expectRefused(await combtone(...call(runs)), wanted);
    expect(await readFile(runs, 'utf8')).toBe(TABLE);
  });

  test('nor under another of its names', async () => {
    await writeFile(at('runs.csv'), TABLE);
    await symlink(at('runs.csv'), at('link.csv'));
    const call = ['calibrate', '--observations', at('link.csv'), '--out', at('./runs.csv')];
    expectRefused(await combtone(...call), /given as --observations too/);
    expect(await readFile(at('link.csv'), 'utf8')).toBe(TABLE);
    // A copy is another file: what is wrong is then told of the table.
    await copyFile(at('runs.csv'), at('copy.csv'));
    const { stderr } = await combtone('calibrate', '--observations', at('copy.csv'), '--out', at('runs.csv'));
    expect(stderr).not.toMatch(/given as/);
  });

  test.each([['study.json'], ['study.sqlite'], ['feeders.csv'], ['openings.csv'], ['arrivals.csv']])(
    'nor is %s of a study, of this call’s or another’s',
    async (name) => {
      const study = at(`study-of-${name}`);
      await mkdir(study);
      await writeFile(join(study, 'study.json'), 'kept');
      await writeFile(join(study, name), 'kept');
      const call = [
        'estimate',
        '--calibration',
        'c.json',
        '--observations',
        'o.csv',
        '--out',
        join(study, name),
      ];
      expectRefused(
        await combtone(...call),
        /^combtone: --out: found .*, a file of a study; wanted a file of/,
      );
      expect(await readFile(join(study, name), 'utf8')).toBe('kept');
      // Where no study is the name is as good as any other.
      const { stderr } = await combtone(...call.slice(0, -1), at(`no-study/${name}`));
      expect(stderr).not.toMatch(/a file of a study/);
    },
  );

  test('a name that is no file is not taken for one', async () => {
    await writeFile(at('spring'), 'kept');
    const call = ['estimate', '--study', at('none'), '--saved', at('spring'), '--out', at('spring')];
    const { stderr } = await combtone(...call);
    expect(stderr).not.toMatch(/given as/);
  });

  test('two tables of one call are not written to one file', async () => {
    const same = ['--out', at('new.csv'), '--neighbourhoods', at('new.csv')];
    expectRefused(
      await combtone('estimate', '--calibration', 'c.json', '--observations', 'o.csv', ...same),
      /--out: found .*new.csv, given as --neighbourhoods too/,
    );
  });
});
