import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { expect, onTestFinished, test } from 'vitest';
import { z } from 'zod';
import { readTable, writeTable } from '../../src/study/csv.ts';

const schema = z.object({ id: z.number().int(), text: z.string().nullable(), more: z.string().nullable() });

const cell = fc.oneof(
  fc.string({ minLength: 1, unit: 'grapheme' }),
  fc.string({
    minLength: 1,
    unit: fc.constantFrom("'", '=', '+', '-', '@', '\t', '\r', '\n', '"', ',', ' ', 'a'),
  }),
  fc.constant(null),
);

test('whatever text is written into a table is read from it as it was', async () => {
  const folder = await mkdtemp(join(tmpdir(), 'combtone-csv-'));
  onTestFinished(() => rm(folder, { recursive: true, force: true }));
  const rows = fc.array(fc.record({ id: fc.integer(), text: cell, more: cell }), {
    minLength: 1,
    maxLength: 20,
  });
  await fc.assert(
    fc.asyncProperty(rows, async (given) => {
      const path = join(folder, 'table.csv');
      await writeTable(path, schema, given);
      expect((await readTable(path, schema)).map(({ row }) => row)).toEqual(given);
    }),
    { numRuns: 300, seed: 7 },
  );
});
