import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { InputError } from '../../src/input-error.ts';
import { readObservations, referenceDances } from '../../src/study/observations.ts';

let folder: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-observations-'));
});
afterAll(() => rm(folder, { recursive: true }));

async function table(content: string): Promise<string> {
  const path = join(folder, 'observations.csv');
  await writeFile(path, content);
  return path;
}

async function refusal(work: Promise<unknown>): Promise<string> {
  const error = await work.then(
    () => undefined,
    (reason: unknown) => reason,
  );
  expect(error).toBeInstanceOf(InputError);
  const { message } = error as InputError;
  expect(message).not.toContain('\n');
  return message;
}

const header = 'bee_id,dance_id,distance_m,duration_s,circuits_per_15s,treatment\n';

describe('readObservations', () => {
  test('gathers the rows of a dance in file order, wherever they stand', async () => {
    const path = await table(
      `${header}red,d1,200,0.5,8,\nblue,d2,400,0.8,,\n,d1,200,,7.5,\nred,d1,200,0.4,,\n`,
    );
    const { dances, rows } = await readObservations(path, 'calibrating');
    expect(rows).toHaveLength(4);
    expect(dances).toEqual([
      {
        danceId: 'd1',
        beeId: 'red',
        distanceM: 200,
        treatment: null,
        durationsS: [0.5, null, 0.4],
        circuitsPer15s: [8, 7.5, null],
      },
      {
        danceId: 'd2',
        beeId: 'blue',
        distanceM: 400,
        treatment: null,
        durationsS: [0.8],
        circuitsPer15s: [null],
      },
    ]);
  });

  test('estimating passes over distance_m, right or wrong', async () => {
    const path = await table('dance_id,distance_m,duration_s\nd1,200,0.5\nd1,unknown,0.6\n');
    const { dances } = await readObservations(path, 'estimating');
    expect(dances[0].distanceM).toBeNull();
    expect(dances[0].durationsS).toEqual([0.5, 0.6]);
  });

  test.each([
    ['no dance_id column', 'bee_id,distance_m,duration_s\nred,200,0.5\n', /header: found no column dance_id/],
    [
      'no distance_m column',
      'bee_id,dance_id,duration_s\nred,d1,0.5\n',
      /header: found no column distance_m/,
    ],
    ['neither time', 'dance_id,distance_m\nd1,200\n', /no value under duration_s or circuits_per_15s/],
    ['no rows', header, /a header and no rows/],
    [
      'text in a number',
      `${header}red,d1,200,half,,\n`,
      /row 2, column duration_s: found "half"; wanted a number/,
    ],
    ['NaN', `${header}red,d1,200,NaN,,\n`, /row 2, column duration_s: found "NaN"; wanted a number/],
    [
      'one typo in a thousand rows',
      `${header}${'red,d1,200,0.5,,\n'.repeat(700)}red,d1,200,O.5,,\n${'red,d1,200,0.5,,\n'.repeat(299)}`,
      /row 702, column duration_s: found "O.5"; wanted a number/,
    ],
    ['zero duration', `${header}red,d1,200,0.5,,\nred,d1,200,0,,\n`, /row 3, column duration_s: found "0"/],
    ['negative duration', `${header}red,d1,200,-0.5,,\n`, /row 2, column duration_s: found "-0.5".*above 0/],
    ['duration in ms', `${header}red,d1,200,500,,\n`, /column duration_s: found "500"; wanted seconds/],
    [
      'zero distance',
      `${header}red,d1,0,0.5,,\n`,
      /row 2, column distance_m: found "0"; wanted metres above 0/,
    ],
    ['negative distance', `${header}red,d1,-200,0.5,,\n`, /column distance_m: found "-200"/],
    ['no distance', `${header}red,d1,,0.5,,\n`, /row 2, column distance_m: found an empty cell/],
    ['distance beyond any flight', `${header}red,d1,20000,0.5,,\n`, /at most 12000/],
    [
      'no circuits',
      `${header}red,d1,200,,0,\n`,
      /row 2, column circuits_per_15s: found "0"; wanted circuits/,
    ],
    ['no dance', `${header}red,,200,0.5,,\n`, /row 2, column dance_id: found an empty cell/],
    [
      'two bees in a dance',
      `${header}red,d1,200,0.5,,\nblue,d1,200,0.5,,\n`,
      /row 3, column bee_id: found "blue" for dance d1, but "red" in row 2; wanted one bee/,
    ],
    [
      'two distances in a dance',
      `${header}red,d1,200,0.5,,\nred,d1,300,0.5,,\n`,
      /row 3, column distance_m: found 300 for dance d1, but 200 in row 2; wanted one distance/,
    ],
    [
      'two treatments in a dance',
      `${header}red,d1,200,0.5,,wind\nred,d1,200,0.5,,\n`,
      /row 3, column treatment: found an empty cell for dance d1, but "wind" in row 2/,
    ],
  ])('refuses %s in one line', async (_, content, expected) => {
    const path = await table(content);
    const message = await refusal(readObservations(path, 'calibrating'));
    expect(message.startsWith(path)).toBe(true);
    expect(message).toMatch(expected);
  });

  test('estimating refuses two bees in a dance too', async () => {
    const path = await table('bee_id,dance_id,duration_s\nred,d1,0.5\nblue,d1,0.6\n');
    expect(await refusal(readObservations(path, 'estimating'))).toMatch(/row 3, column bee_id/);
  });
});

describe('referenceDances', () => {
  const read = async (...treatments: string[]) =>
    readObservations(
      await table(header + treatments.map((name, i) => `red,d${i},200,0.5,,${name}\n`).join('')),
      'calibrating',
    );
  const names = (dances: readonly { danceId: string }[]) => dances.map(({ danceId }) => danceId);

  test('empty or reference, failing those the only one', async () => {
    const mixed = referenceDances(await read('', 'wind', 'reference'));
    expect(mixed.name).toBe('reference');
    expect(names(mixed.dances)).toEqual(['d0', 'd2']);
    expect(referenceDances(await read('', 'wind')).name).toBeNull();
    expect(referenceDances(await read('calm', 'calm'))).toMatchObject({ name: 'calm' });
  });

  test('the one asked for', async () => {
    const asked = referenceDances(await read('', 'wind', 'calm'), 'calm');
    expect(names(asked.dances)).toEqual(['d2']);
  });

  test('of no dances at all says that there are none', () => {
    for (const name of [undefined, 'wind']) {
      expect(() => referenceDances({ file: 'summer', rows: [], dances: [] }, name)).toThrow(
        /^summer: found no dance tied to a feeder of known distance; wanted dances at feeders/,
      );
    }
  });

  test('refuses to guess between several, or a name that is not there', async () => {
    const observations = await read('wind', 'calm');
    expect(() => referenceDances(observations)).toThrow(
      /several treatments.*\(wind, calm\); wanted --reference/,
    );
    expect(() => referenceDances(observations, 'rain')).toThrow(
      /--reference: found "rain".*one of: wind, calm/,
    );
  });
});
