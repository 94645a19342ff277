/** Rows of cells as text for a terminal: columns padded to equal width, two spaces between, numbers to the right. */
export function textTable(rows: readonly (readonly string[])[]): string {
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
