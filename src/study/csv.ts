import { readFile, rename, rm, writeFile } from 'node:fs/promises';
import { type CsvError, type Info, parse } from 'csv-parse/sync';
import { stringify } from 'csv-stringify/sync';
import { z } from 'zod';
import { InputError, unwritable } from '../input-error.ts';
import { nearColumn } from './near-column.ts';
import { tableText } from './table-text.ts';
import { warnOnce } from './warn.ts';

type TableSchema = z.ZodObject<z.ZodRawShape>;

/** What is asked of the columns of a table beside what its schema says. */
interface ColumnsAsked<S extends TableSchema> {
  /** Columns that must be there though their cells may be empty. */
  readonly wanted?: readonly (keyof S['shape'] & string)[];
  /** Which column is missing, in words, by which there are; null for none. */
  readonly missing?: (has: (column: string) => boolean) => string | null;
  /**
   * Of a table that people write: columns beside the schema's that it may have. Of any other a word is said on stderr,
   * for it may be a misspelt one. Left out, other columns are nobody's concern.
   */
  readonly beside?: readonly string[];
}

/**
 * Reads a CSV table (RFC 4180, UTF-8, header row) and checks every cell against a schema.
 * Empty cells become null; numbers and truth values are recognised by the schema's column type; the apostrophe
 * that keeps spreadsheets from taking text for a formula is taken off.
 * Columns that the schema does not know are passed over; nullable columns may be absent, unless they are asked for.
 *
 * @returns the rows, in file order, each with the line it began on in the file (1-based; the header is line 1)
 * @throws InputError naming the file, row and column, what was found and what is wanted
 */
export async function readTable<S extends TableSchema>(
  path: string,
  schema: S,
  asked: ColumnsAsked<S> = {},
): Promise<{ row: z.infer<S>; line: number }[]> {
  let bytes: Uint8Array;
  try {
    bytes = await readFile(path);
  } catch (error) {
    throw unreadable(path, error);
  }
  return tableRows(path, tableText(path, bytes), schema, asked);
}

/** As `readTable`, from text that was read already. */
export function tableRows<S extends TableSchema>(
  path: string,
  content: string,
  schema: S,
  asked: ColumnsAsked<S> = {},
): { row: z.infer<S>; line: number }[] {
  const { header, records } = parseCsv(path, content);
  const columns = Object.keys(schema.shape);
  const needed = columns.filter(
    (name) => asked.wanted?.includes(name) || !(schema.shape[name] as z.ZodType).safeParse(null).success,
  );
  const missing = needed.filter((name) => !header.includes(name)).join(', ') || undefined;
  const lacking = missing ?? asked.missing?.((name) => header.includes(name)) ?? null;
  if (lacking !== null) {
    const names = missing === undefined ? lacking : needed.join(', ');
    throw new InputError({
      file: path,
      place: 'header',
      found: `no column ${lacking} (columns: ${header.join(', ') || 'none'})`,
      wanted: `the ${names.includes(',') ? 'columns' : 'column'} ${names}`,
    });
  }
  if (asked.beside !== undefined) warnOfOthers(path, header, [...columns, ...asked.beside]);
  return records.map(({ record, line }) => {
    const candidate: Record<string, unknown> = {};
    for (const name of columns) {
      candidate[name] = cellValue(record[name], schema.shape[name] as z.ZodType);
    }
    const result = schema.safeParse(candidate);
    if (result.success) return { row: result.data as z.infer<S>, line };
    const issue = result.error.issues[0]!;
    const column = String(issue.path[0] ?? '');
    throw new InputError({
      file: path,
      place: `row ${line}, column ${column}`,
      found: record[column] ? JSON.stringify(record[column]) : 'an empty cell',
      wanted: wantedOf(issue),
    });
  });
}

const MOST_NAMED = 10;
const LONGEST_NAME = 60;

/** Names the columns that are not read, for a misspelt one would be taken for an empty one without a word. */
function warnOfOthers(path: string, header: readonly string[], known: readonly string[]): void {
  const free = known.filter((name) => !header.includes(name));
  const others = header.filter((name) => name !== '' && !known.includes(name));
  if (others.length === 0) return;
  const words = others.slice(0, MOST_NAMED).map((name) => {
    const near = nearColumn(name, free);
    return near === null ? name.slice(0, LONGEST_NAME) : `${name} (did you mean ${near}?)`;
  });
  if (others.length > MOST_NAMED) words.push(`${others.length - MOST_NAMED} more`);
  const [columns, are] = others.length === 1 ? ['column', 'is'] : ['columns', 'are'];
  warnOnce(`${path}, header: ${columns} ${words.join(', ')} ${are} not read`);
}

/**
 * Writes rows as a CSV table with the schema's columns in order, through a temporary name, so that a reader
 * never sees half a table. null and undefined become empty cells; text is made safe for spreadsheets.
 */
export async function writeTable<S extends TableSchema>(
  path: string,
  schema: S,
  rows: readonly z.infer<S>[],
): Promise<void> {
  await writeWhole(path, formatTable(schema, rows));
}

/** The CSV text of rows, as `writeTable` writes it. */
export function formatTable<S extends TableSchema>(schema: S, rows: readonly z.infer<S>[]): string {
  return csvText(schema, rows, true);
}

const ROWS_AT_ONCE = 100;

/** As `formatTable`, piece by piece, for tables too long to be held: the pieces, one behind another, are its text. */
export function* tableParts<S extends TableSchema>(schema: S, rows: Iterable<z.infer<S>>): Generator<string> {
  let batch: z.infer<S>[] = [];
  let header = true;
  for (const row of rows) {
    if (batch.push(row) < ROWS_AT_ONCE) continue;
    yield csvText(schema, batch, header);
    header = false;
    batch = [];
  }
  if (header || batch.length > 0) yield csvText(schema, batch, header);
}

function csvText(schema: TableSchema, rows: readonly object[], header: boolean): string {
  return stringify(rows as object[], {
    header,
    columns: Object.keys(schema.shape),
    cast: { boolean: (value) => (value ? 'true' : 'false'), string: safeText },
    // Without quotes, a reader that trims would take the spaces at the ends of a file's name away.
    quoted_match: /^\s|\s$/,
  });
}

// What a spreadsheet takes for the beginning of a formula, in full width too.
const formulaStart = /^'*[=+\-−@＝＋－＠\t\r\n]/;

/**
 * Text that a spreadsheet would take for a formula, with an apostrophe before it: text beginning with = + - − @, a
 * tab or a line break, after any apostrophes of its own, so that `plainText` gives back exactly what was.
 */
export function safeText(text: string): string {
  return formulaStart.test(text) ? `'${text}` : text;
}

/** Takes back what `safeText` did. */
export function plainText(cell: string): string {
  return cell.startsWith("'") && formulaStart.test(cell) ? cell.slice(1) : cell;
}

/** Writes a text file under a temporary name beside it and renames it into place. */
export async function writeWhole(path: string, content: string): Promise<void> {
  const temporary = `${path}.${process.pid}.tmp`;
  try {
    await writeFile(temporary, content);
    await rename(temporary, path);
  } catch (error) {
    await rm(temporary, { force: true });
    throw unwritable(path, error);
  }
}

// A quote that is never closed makes a row of all that follows.
const mostRowCharacters = 1_000_000;

/** @throws InputError where the header has other marks than commas between its columns, as some spreadsheets write */
function checkCommas(file: string, content: string): void {
  const header = /^[^\r\n]*/.exec(content)![0];
  const found = header.includes(';') ? 'semicolons' : header.includes('\t') ? 'tabs' : null;
  if (found === null || header.includes(',')) return;
  throw new InputError({
    file,
    place: 'header',
    found: `${found} between the columns`,
    wanted: 'commas, and points in numbers',
  });
}

function parseCsv(path: string, content: string) {
  checkCommas(path, content);
  try {
    const rows = parse(content, {
      bom: true,
      info: true,
      relax_column_count: false,
      skip_empty_lines: true,
      trim: true,
      max_record_size: mostRowCharacters,
    }) as unknown as { record: string[]; info: Info }[];
    const header = rows[0]?.record ?? [];
    const twice = header.find((name, index) => header.indexOf(name) !== index);
    if (twice !== undefined) {
      const found = `two columns ${JSON.stringify(twice)}`;
      throw new InputError({ file: path, place: 'header', found, wanted: 'each column once' });
    }
    return {
      header,
      records: rows.slice(1).map(({ record, info }) => ({
        record: Object.fromEntries(header.map((name, index) => [name, record[index] ?? ''])),
        line: info.lines,
      })),
    };
  } catch (error) {
    if (error instanceof InputError) throw error;
    const { message, lines } = error as CsvError & { lines?: number };
    throw new InputError({
      file: path,
      ...(lines === undefined ? {} : { place: `row ${lines}` }),
      found: message,
      wanted: 'a CSV table (RFC 4180) with one header row and as many cells in each row',
    });
  }
}

function cellValue(cell: string | undefined, type: z.ZodType): unknown {
  if (cell === undefined || cell === '') return null;
  const base = type instanceof z.ZodNullable ? type.unwrap() : type;
  if (base instanceof z.ZodNumber) return decimalNumber.test(cell) ? Number(cell) : cell;
  if (base instanceof z.ZodBoolean) return cell === 'true' ? true : cell === 'false' ? false : cell;
  return plainText(cell);
}

// Plain decimal notation only: Number() alone would also take '0x1f', 'Infinity' and ''.
const decimalNumber = /^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/;

function wantedOf(issue: { code: string; message: string; expected?: string }): string {
  if (issue.code === 'invalid_type' && issue.expected === 'number') return 'a number';
  if (issue.code === 'invalid_type' && issue.expected === 'int') return 'a whole number';
  if (issue.code === 'invalid_type' && issue.expected === 'boolean') return 'true or false';
  if (issue.code === 'invalid_type' && issue.expected === 'string') return 'a value';
  return issue.message;
}

function unreadable(path: string, error: unknown): InputError {
  const code = (error as NodeJS.ErrnoException).code;
  return new InputError({
    file: path,
    found: code === 'ENOENT' ? 'no such file' : code === 'EISDIR' ? 'a folder' : String(code),
    wanted: 'a readable CSV file',
  });
}
