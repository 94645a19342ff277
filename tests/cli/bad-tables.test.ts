import { readdir, writeFile } from 'node:fs/promises';
import { describe, expect, test } from 'vitest';
import { combtone, expectRefused, temporaryFolder } from './run-combtone.ts';

const at = temporaryFolder();

const put = async (name: string, content: string): Promise<string> => {
  await writeFile(at(name), content);
  return at(name);
};

const TRAINS =
  'recording,channel,train_id,dance_id,start_s,end_s,status\n' +
  'a.wav,1,t1,d1,1.0,1.5,found\n' +
  'a.wav,1,t2,d1,3.0,3.5,found\n';

describe.concurrent('combtone agree', () => {
  test('compares tables, for people and for machines', async () => {
    const reference = await put('reference.csv', TRAINS);
    const found = await put('found.csv', TRAINS.replace('3.0,3.5', '3.1,3.5').replace('1.0,1.5', '7.0,7.5'));
    const { code, stdout } = await combtone('agree', '--reference', reference, '--found', found, '--json');
    expect(code).toBe(0);
    // One of two is the same, shares 0.4 of 0.5 s, and begins 100 ms late.
    expect(JSON.parse(stdout).trains).toMatchObject({
      reference: 2,
      found: 2,
      matched: 1,
      precision: 0.5,
      recall: 0.5,
      f1: 0.5,
    });
    expect(JSON.parse(stdout).trains.onset.medianMs).toBeCloseTo(100, 6);
    const text = await combtone('agree', '--reference', reference, '--found', found);
    expect(text.stdout).toMatch(/2 in the reference, 2 found, 1 the same[\s\S]*precision 0\.500/);
  });

  test.each([
    ['a missing column', TRAINS.replaceAll(/,end_s|,1\.5|,3\.5/g, ''), /header: found no column end_s/],
    [
      'text in a number',
      TRAINS.replace('3.0', 'three'),
      /row 3, column start_s: found "three"; wanted a number/,
    ],
    [
      'a hexadecimal number',
      TRAINS.replace('3.0', '0x3'),
      /row 3, column start_s: found "0x3"; wanted a number/,
    ],
    ['an unknown status', TRAINS.replace('found', 'lost'), /row 2, column status: found "lost"/],
    [
      'an empty cell where none may be',
      TRAINS.replace('t2', ''),
      /row 3, column train_id: found an empty cell/,
    ],
    ['a row too short', `${TRAINS}a.wav,1\n`, /row 4/],
    ['an empty file', '', /found no column recording/],
  ])('refuses %s', async (name, content, wanted) => {
    const good = await put(`good, ${name}.csv`, TRAINS);
    const bad = await put(`bad, ${name}.csv`, content);
    expectRefused(await combtone('agree', '--reference', good, '--found', bad), wanted);
    expectRefused(await combtone('agree', '--reference', bad, '--found', good), /bad, /);
  });

  test('refuses a table that is not there', async () => {
    const good = await put('only.csv', TRAINS);
    expectRefused(
      await combtone('agree', '--reference', good, '--found', at('no.csv')),
      /no\.csv: found no such file; wanted a readable CSV file/,
    );
  });
});

describe.concurrent('combtone calibrate', () => {
  const OBSERVATIONS =
    'bee_id,dance_id,distance_m,duration_s\n' +
    ['a,d1,100,0.35', 'a,d2,300,0.55', 'b,d3,500,0.75', 'b,d4,900,1.15', 'c,d5,1200,1.44', ''].join('\n');

  test('--json prints a calibration that parses', async () => {
    const observations = await put('observations.csv', OBSERVATIONS);
    const out = at('calibration.json');
    const { code, stdout } = await combtone(
      'calibrate',
      '--observations',
      observations,
      '--out',
      out,
      '--json',
    );
    expect(code).toBe(0);
    expect(JSON.parse(stdout).format).toBe('combtone calibration');
  });

  test.each([
    [
      'a negative distance',
      OBSERVATIONS.replace('500', '-500'),
      /row 4, column distance_m: found "-500"; wanted/,
    ],
    [
      'text in a number',
      OBSERVATIONS.replace('0.75', 'long'),
      /row 4, column duration_s: found "long"; wanted/,
    ],
    ['a missing column', OBSERVATIONS.replace('distance_m', 'far_m'), /header: found no column distance_m/],
    ['a duration of zero', OBSERVATIONS.replace('0.75', '0'), /row 4, column duration_s: found "0"; wanted/],
    ['a header alone', 'dance_id,distance_m,duration_s\n', /found a header and no rows/],
  ])('refuses %s and writes nothing', async (name, content, wanted) => {
    const observations = await put(`bad, ${name}.csv`, content);
    const refused = await combtone('calibrate', '--observations', observations, '--out', at('never.json'));
    expectRefused(refused, wanted);
    expect((await readdir(at('.'))).filter((name) => /never|\.tmp$/.test(name))).toEqual([]);
  });
});
