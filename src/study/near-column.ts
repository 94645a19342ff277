import leven from 'leven';

const LEAST_LETTERS = 3;
const MOST_LETTERS = 40;
const MOST_CHANGED = 2;

/**
 * The column that was meant by one that is not known: one that holds its letters, such as `comb_angle_deg` for
 * `comb angle`, or else is a letter or two from it, such as `treatment` for `treatement`.
 *
 * @returns null where none is near
 */
export function nearColumn(name: string, known: readonly string[]): string | null {
  const given = letters(name);
  if (given.length < LEAST_LETTERS || given.length > MOST_LETTERS) return null;
  const holding = known.find((column) => letters(column).includes(given));
  if (holding !== undefined) return holding;
  const away = known.map((column) => ({ column, changes: leven(given, letters(column)) }));
  const nearest = away.toSorted((a, b) => a.changes - b.changes)[0];
  const most = Math.min(MOST_CHANGED, Math.floor(given.length / 4));
  return nearest !== undefined && nearest.changes <= most ? nearest.column : null;
}

const letters = (name: string): string => name.toLowerCase().replaceAll(/[^\p{L}\p{N}]/gu, '');
