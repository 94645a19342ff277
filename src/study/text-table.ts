import { oneLine } from '../input-error.ts';

/** A number, perhaps with its unit: `12`, `−3.5`, `95 %`, `12°`, `0.4 s`, `1.2e-7`. A mark such as `7b` is none. */
const NUMBER = /^[-+−]?(\d[\d.,]*|\.\d+)(e[-+]\d+)?( ?[%°]| [a-z]{1,3})?$/i;

/** What stands for a number that there is none of. */
const UNKNOWN = /^[-–]?$/;

/** Rows of cells as text for a terminal: columns padded to equal width, two spaces between, numbers to the right. */
export function textTable(given: readonly (readonly string[])[]): string {
  // A file's name may hold a line break.
  const rows = given.map((row) => row.map(oneLine));
  const widths = rows[0]!.map((_, column) => Math.max(...rows.map((row) => row[column]!.length)));
  const numeric = widths.map((_, column) =>
    rows.slice(1).every((row) => UNKNOWN.test(row[column]!) || NUMBER.test(row[column]!)),
  );
  return rows
    .map((row) =>
      row
        .map((cell, column) =>
          numeric[column] ? cell.padStart(widths[column]!) : cell.padEnd(widths[column]!),
        )
        .join('  ')
        .trimEnd(),
    )
    .join('\n');
}

/** A number for a table; nothing where it is not known. */
export const cell = (value: number | null | undefined, decimals: number): string =>
  value === null || value === undefined ? '' : value.toFixed(decimals);
