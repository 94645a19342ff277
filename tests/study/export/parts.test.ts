import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { stringify } from 'csv-stringify/sync';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { z } from 'zod';
import { formatTable, safeText, tableParts } from '../../../src/study/csv.ts';
import { jsonParts } from '../../../src/study/export/json-parts.ts';
import { writeFiles } from '../../../src/study/export/write-files.ts';

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-parts-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

/** Gone through but once, as rows from a store are. */
function* once<T>(values: readonly T[]): Generator<T> {
  yield* values;
}

describe('piece by piece', () => {
  test('JSON is to the letter what it is whole', () => {
    const value = fc.jsonValue({ noUnicodeString: false }).filter((one) => !Array.isArray(one));
    fc.assert(
      fc.property(
        fc.dictionary(fc.string(), value),
        fc.array(fc.dictionary(fc.string(), value)),
        (object, rows) => {
          const whole = { ...object, rows, none: [], gone: undefined };
          const parts = [...jsonParts({ ...object, rows: once(rows), none: once([]), gone: undefined })];
          expect(parts.join('')).toBe(`${JSON.stringify(whole, null, 1)}\n`);
        },
      ),
      { numRuns: 60, seed: 11 },
    );
    expect([...jsonParts({})].join('')).toBe('{}\n');
  });

  test.each([0, 1, 99, 100, 101, 250])('a table of %i rows is to the letter what it is whole', (count) => {
    const schema = z.object({ name: z.string().nullable(), value: z.number().nullable(), yes: z.boolean() });
    const names = ['=1+1', 'a,b', '"', ' x', 'a\nb', null, 'plain', '-5', 'ü'];
    const rows = Array.from({ length: count }, (_, k) => ({
      name: names[k % names.length]!,
      value: k % 7 === 0 ? null : k / 3,
      yes: k % 2 === 0,
    }));
    const parts = [...tableParts(schema, once(rows))];
    expect(parts.join('')).toBe(formatTable(schema, rows));
    expect(parts.length).toBe(Math.max(1, Math.ceil(count / 100)));
  });
});

test('plain rows are written as the library writes them', () => {
  const schema = z.object({ name: z.string().nullable(), value: z.number().nullable(), yes: z.boolean() });
  const name = fc.oneof(
    fc.constantFrom(
      'hive-t0001',
      '2031-06-14T09:30:00.000+02:00',
      '_',
      '0',
      'a b',
      '-1',
      '+1',
      'x,',
      'é',
      '',
    ),
    fc.stringMatching(/^[\w.:+-]{0,8}$/),
    fc.string(),
  );
  const row = fc.record({
    name: fc.option(name),
    value: fc.option(fc.oneof(fc.integer(), fc.double({ noNaN: true }))),
    yes: fc.boolean(),
  });
  const byLibrary = (rows: object[]) =>
    stringify(rows, {
      header: true,
      columns: Object.keys(schema.shape),
      cast: { boolean: String, string: safeText },
      quoted_match: /^\s|\s$/,
    });
  fc.assert(
    fc.property(fc.array(row, { maxLength: 3 }), (rows) => {
      expect(formatTable(schema, rows)).toBe(byLibrary(rows));
    }),
    { numRuns: 3000, seed: 12 },
  );
});

describe('files', () => {
  const long = Array.from({ length: 3000 }, (_, k) => `piece ${k}: ünder\n`);

  test('hold all their pieces, in folders of their own, and nothing else is left', async () => {
    const to = join(folder, 'whole');
    const written = writeFiles(to, [
      ['a.txt', 'a'],
      ['cues/long.txt', once(long)],
      ['empty.txt', once([])],
    ]);
    expect(written).toEqual(['a.txt', 'cues/long.txt', 'empty.txt'].map((name) => join(to, name)));
    expect(await readFile(join(to, 'cues/long.txt'), 'utf8')).toBe(long.join(''));
    expect((await readdir(to)).sort()).toEqual(['a.txt', 'cues', 'empty.txt']);
    expect(await readdir(join(to, 'cues'))).toEqual(['long.txt']);
  });

  test('of which one cannot be made leave those of before as they were', async () => {
    const to = join(folder, 'before');
    writeFiles(to, [['a.txt', 'old']]);
    const failing = function* () {
      yield* long;
      throw new RangeError('no more');
    };
    const files = [
      ['a.txt', 'new'],
      ['b.txt', failing()],
    ] as const;
    expect(() => writeFiles(to, files)).toThrow(RangeError);
    expect(await readdir(to)).toEqual(['a.txt']);
    expect(await readFile(join(to, 'a.txt'), 'utf8')).toBe('old');
  });

  test('go nowhere where a file is in the way of their folder', async () => {
    await writeFile(join(folder, 'a file'), '');
    expect(() => writeFiles(join(folder, 'a file'), [])).toThrow(/a file: found .*; wanted a folder/);
  });
});
