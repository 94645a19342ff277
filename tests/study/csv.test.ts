import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { z } from 'zod';
import { InputError } from '../../src/input-error.ts';
import { formatTable, readTable, writeTable } from '../../src/study/csv.ts';
import { readFeeders } from '../../src/study/feeders.ts';
import { readFeederPlaces } from '../../src/study/places.ts';

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

describe('tables that are no UTF-8 with commas', () => {
  const refused = async (bytes: Buffer) => {
    const path = join(folder, 'table.csv');
    await writeFile(path, bytes);
    const error = await readTable(path, schema).catch((reason: unknown) => reason);
    expect(error).toBeInstanceOf(InputError);
    return (error as Error).message.replace(path, 'table.csv');
  };
  const text = 'name,value\nreed,1\ngrün-2,2\n';

  test('are refused at the row, column and byte where it shows', async () => {
    expect(await refused(Buffer.from(text, 'latin1'))).toBe(
      'table.csv, row 3, column name, byte 21: found 0xFC, which is no UTF-8 (in Windows-1252 or Latin-1 the cell is "grün-2"); ' +
        'wanted text in UTF-8 (spreadsheet programs: save as CSV UTF-8)',
    );
    // At the end, and cut within a letter.
    expect(await refused(Buffer.from('value,name\n1,reed\n2,Grü', 'latin1'))).toMatch(
      /^table\.csv, row 3, column name, byte 23: found 0xFC/,
    );
    expect(await refused(Buffer.from('name,välue\n', 'latin1'))).toMatch(
      /^table\.csv, row 1, byte 7: found 0xE4/,
    );
    expect(await refused(Buffer.from([0xe2, 0x82]))).toMatch(/^table\.csv, row 1, byte 1: found 0xE2/);
  });

  test('are refused by name where they are UTF-16', async () => {
    const little = Buffer.from(`\ufeff${text}`, 'utf16le');
    const wanted = /^table\.csv: found text in UTF-16; wanted text in UTF-8/;
    expect(await refused(little)).toMatch(wanted);
    expect(await refused(Buffer.from(little).swap16())).toMatch(wanted);
  });

  test('are read where a mark at the beginning says UTF-8', async () => {
    expect(await read(`\ufeff${text}`)).toEqual([
      { name: 'reed', value: 1 },
      { name: 'grün-2', value: 2 },
    ]);
  });

  test.each([
    ['semicolons', 'name;value\nx;1,5\n'],
    ['tabs', 'name\tvalue\nx\t1.5\n'],
  ])('but %s are refused as such', async (marks, content) => {
    expect(await refusal(content)).toContain(
      `header: found ${marks} between the columns; wanted commas, and points in numbers`,
    );
  });
});

describe('columns of a table that people write', () => {
  const notes = z.object({
    name: z.string(),
    comb_angle_deg: z.number().nullable(),
    treatment: z.string().nullable(),
    distance_m: z.number().nullable(),
    bearing_deg: z.number().nullable(),
  });
  const said = async (file: string, text: string, beside?: readonly string[]) => {
    const path = join(folder, file);
    await writeFile(path, text);
    const spy = vi.spyOn(process.stderr, 'write').mockImplementation(() => true);
    try {
      await readTable(path, notes, beside === undefined ? {} : { beside });
      await readTable(path, notes, beside === undefined ? {} : { beside });
      return spy.mock.calls.map(([line]) => String(line).replace(path, file));
    } finally {
      spy.mockRestore();
    }
  };

  test('that are not known are named once, with the one that may be meant', async () => {
    const text = 'name,comb_angle,treatement,Bearing,distance (m),weather\nx,1,2,3,4,5\n';
    expect(await said('written.csv', text, [])).toEqual([
      'combtone: warning: written.csv, header: columns comb_angle (did you mean comb_angle_deg?), ' +
        'treatement (did you mean treatment?), Bearing (did you mean bearing_deg?), ' +
        'distance (m) (did you mean distance_m?), weather are not read\n',
    ]);
    expect(await said('one.csv', 'name,treatment,treatments\nx,1,2\n', [])).toEqual([
      'combtone: warning: one.csv, header: column treatments is not read\n',
    ]);
  });

  test('that are many or long are told in a short line', async () => {
    const many = Array.from({ length: 1000 }, (_, k) => `c${k}`);
    const header = ['name', 'x'.repeat(1000), ...many];
    const [line] = await said('many.csv', `${header.join(',')}\n`, []);
    expect(line!.length).toBeLessThan(300);
    expect(line).toMatch(/x, c0, .*, c8, 991 more are not read\n$/);
  });

  test('may be kept for other commands, and a program’s table may have any', async () => {
    expect(await said('kept.csv', 'name,weather\nx,1\n', ['weather'])).toEqual([]);
    expect(await said('made.csv', 'name,comb_angle\nx,1\n')).toEqual([]);
  });

  test.each([
    ['feeder_id,distance\nreed,200\n', /header: found no column distance_m, or latitude and longitude \(col/],
    ['feeder_id,latitude,lon\nreed,51,9\n', /header: found no column longitude \(columns: /],
  ])('of places that are missing are called missing: %j', async (text, wanted) => {
    const path = join(folder, 'feeders.csv');
    await writeFile(path, text);
    await expect(readFeeders(path, null)).rejects.toThrow(wanted);
    await expect(readFeederPlaces(path, { latitudeDeg: 51, longitudeDeg: 9 })).rejects.toThrow(wanted);
  });
});

test('a table goes nowhere when its folder is not there', async () => {
  const path = join(folder, 'none', 'table.csv');
  await expect(writeTable(path, schema, [])).rejects.toThrow(/found a place that cannot be written/);
  await expect(readFile(path)).rejects.toThrow();
});
