import { oneLine } from '../input-error.ts';

/** Rows of cells as text for a terminal: columns padded to equal width, two spaces between, numbers to the right. */
export function textTable(given: readonly (readonly string[])[]): string {
  // A file's name may hold a line break.
  const rows = given.map((row) => row.map(oneLine));
  const widths = rows[0]!.map((_, column) => Math.max(...rows.map((row) => row[column]!.length)));
  const numeric = widths.map((_, column) =>
    rows.slice(1).every((row) => /^[-+−]?[\d.,]*( ?[%a-z°]{0,3})?$/i.test(row[column]!)),
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
