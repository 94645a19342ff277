import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { z } from 'zod';
import { InputError } from '../../src/input-error.ts';
import { formatTable, readTable, writeTable } from '../../src/study/csv.ts';

const schema = z.object({ name: z.string(), value: z.number() });
let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-csv-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

async function read(text: string) {
  const path = join(folder, 'table.csv');
  await writeFile(path, text);
  return (await readTable(path, schema)).map(({ row }) => row);
}

async function refusal(text: string): Promise<string> {
  const error = await read(text).catch((reason: unknown) => reason);
  expect(error).toBeInstanceOf(InputError);
  const { message } = error as Error;
  expect(message).not.toMatch(/[\n\r]/);
  expect(message.length).toBeLessThan(1000);
  return message;
}

const names = [
  'hive 1.wav',
  ' spaces at the ends ',
  "quote\"s and 'apostrophes'.wav",
  'line\nbreak.wav',
  'carriage\rreturn.wav',
  'comma, semicolon; tab\t.wav',
  'Bienenstöcke – Größe.wav',
  '蜂の巣.wav',
  'خلية‎.wav',
  '🐝.wav',
  '=1+1.wav',
  '+cmd.wav',
  '-rf.wav',
  '−minus.wav',
  '@sum.wav',
  "'=quoted.wav",
  "'plain.wav",
  '\t=tab.wav',
  '＝wide.wav',
];

describe('whatever a file is called', () => {
  test.each(names)('%j comes back from a table as it went in', async (name) => {
    const path = join(folder, 'names.csv');
    await writeTable(path, schema, [{ name, value: -1 }]);
    expect((await readTable(path, schema)).map(({ row }) => row)).toEqual([{ name, value: -1 }]);
  });

  test('no cell of text begins like a formula, and numbers stay numbers', () => {
    for (const name of names) {
      const cell = formatTable(schema, [{ name, value: -0.5 }]).slice('name,value\n'.length);
      expect(cell.replace(/^"/, '')).not.toMatch(/^\s*[=+\-−@＝＋－＠]/);
      expect(cell).toMatch(/,-0\.5\n$/);
    }
  });
});

describe('hostile tables', () => {
  test.each([
    ['1e308', 1e308],
    ['-1e308', -1e308],
    ['5e-324', 5e-324],
  ])('%s is a number', async (cell, value) => {
    expect(await read(`name,value\nx,${cell}\n`)).toEqual([{ name: 'x', value }]);
  });

  test.each(['1e309', '-1e999', 'NaN', 'Infinity', '0x10', '=1+1', '1,5"', '--1', '1e', '１２'])(
    'a number %j is refused by row and column',
    async (cell) => {
      expect(await refusal(`name,value\nx,"${cell.replaceAll('"', '""')}"\n`)).toMatch(
        /row 2, column value: found/,
      );
    },
  );

  test('columns named like parts of every object are columns like others', async () => {
    const text = '__proto__,constructor,toString,name,value\n{},x,y,hive,1\n';
    expect(await read(text)).toEqual([{ name: 'hive', value: 1 }]);
    expect(Object.hasOwn(Object.prototype, 'hive')).toBe(false);
    expect(await refusal('__proto__,value\nx,1\n')).toContain('header: found no column name');
  });

  test('two columns of one name are refused', async () => {
    expect(await refusal('name,value,value\nx,1,2\n')).toContain('header: found two columns "value"');
  });

  test.each([
    ['a quote never closed', `name,value\n"${'x,1\n'.repeat(500_000)}`],
    ['a line of 100 MB', `name,value\n${'x'.repeat(100_000_000)},1\n`],
    ['a cell of 100 MB in quotes', `name,value\n"${'x'.repeat(100_000_000)}",1\n`],
    ['a header of a million columns', `${'name,'.repeat(1_000_000)}value\n`],
  ])('%s is refused in a short line', async (_, text) => {
    const begun = performance.now();
    await refusal(text);
    expect(performance.now() - begun).toBeLessThan(5000);
  });

  test.each([
    ['nothing', ''],
    ['zeros', '\0'.repeat(1000)],
    ['a lone quote', '"'],
    ['bytes that are no UTF-8', '\ufffd\ufffd,\ufffd'],
    ['more cells than columns', 'name,value\nx,1,2\n'],
    ['fewer cells than columns', 'name,value\nx\n'],
  ])('%s is refused', async (_, text) => {
    await refusal(text);
  });
});

test('a table goes nowhere when its folder is not there', async () => {
  const path = join(folder, 'none', 'table.csv');
  await expect(writeTable(path, schema, [])).rejects.toThrow(/found a place that cannot be written/);
  await expect(readFile(path)).rejects.toThrow();
});
