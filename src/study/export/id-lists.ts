/** Ids in one cell, a semicolon between them; one of their own, or a backslash, has a backslash before it. */
export function joinIds(ids: readonly string[]): string | null {
  return ids.length === 0 ? null : ids.map((id) => id.replaceAll(/[\\;]/g, '\\$&')).join(';');
}

/** The ids that `joinIds` put into a cell. */
export function splitIds(cell: string | null): string[] {
  if (cell === null) return [];
  const ids = [''];
  for (let at = 0; at < cell.length; at++) {
    const letter = cell[at]!;
    if (letter === '\\') ids[ids.length - 1] += cell[++at] ?? '';
    else if (letter === ';') ids.push('');
    else ids[ids.length - 1] += letter;
  }
  return ids;
}
