import { z } from 'zod';
import { columnMeanings, tableMeanings } from './meanings.ts';
import { exportSchemas } from './schemas.ts';

/** One column of one table, as data-dictionary.csv has it. */
export const dictionarySchema = z.object({
  table: z.string(),
  column: z.string(),
  meaning: z.string(),
  unit: z.string().nullable(),
  type: z.string(),
  empty: z.string(),
});

export type DictionaryRow = z.infer<typeof dictionarySchema>;

/** Every column of every table of an export: what it means, its unit and type, and what an empty cell means. */
export function dictionaryRows(): DictionaryRow[] {
  return Object.entries(exportSchemas).flatMap(([table, schema]) =>
    Object.entries(schema.shape).map(([column, type]): DictionaryRow => {
      const said = columnMeanings[`${table}.${column}`] ?? columnMeanings[column];
      if (said === undefined) throw new Error(`column ${column} of ${table} has no meaning`);
      const mayBeEmpty = (type as z.ZodType).safeParse(null).success;
      return {
        table,
        column,
        meaning: said.meaning,
        unit: said.unit ?? null,
        type: typeName(type as z.ZodType),
        empty: mayBeEmpty ? (said.empty ?? 'unknown') : 'never empty',
      };
    }),
  );
}

/** A column's type, as the schema has it. */
function typeName(type: z.ZodType): string {
  if (type instanceof z.ZodNullable || type instanceof z.ZodOptional)
    return typeName(type.unwrap() as z.ZodType);
  if (type instanceof z.ZodEnum) return `one of: ${type.options.join(', ')}`;
  if (type instanceof z.ZodBoolean) return 'true or false';
  if (type instanceof z.ZodNumber) return type.format === 'safeint' ? 'whole number' : 'number';
  return 'text';
}

const intro = `# Data dictionary

The tables that \`combtone export\` writes, made from the schemas in the program. All are CSV (RFC 4180, UTF-8, one
header row). Times named \`_s\` are seconds from the recording’s start. An empty cell never means zero. Text that a
spreadsheet would take for a formula (beginning with = + - − @, a tab or a line break) has an apostrophe before it,
which combtone takes off again when it reads the table. Columns may be appended in later versions, never renamed.
`;

/** The dictionary for people to read, Markdown. */
export function dictionaryText(): string {
  const rows = dictionaryRows();
  const cell = (text: string) => text.replaceAll('|', '\\|');
  const parts = Object.keys(exportSchemas).map((table) => {
    const lines = rows
      .filter((row) => row.table === table)
      .map(({ column, meaning, unit, type, empty }) =>
        `| ${[`\`${column}\``, meaning, unit ?? '', type, empty].map(cell).join(' | ')} |`.replaceAll(
          '|  |',
          '| |',
        ),
      );
    return [
      `## ${table}.csv`,
      '',
      tableMeanings[table],
      '',
      '| column | meaning | unit | type | an empty cell means |',
      '|---|---|---|---|---|',
      ...lines,
      '',
    ].join('\n');
  });
  return `${intro}\n${parts.join('\n')}`;
}
