const FIRST = 3;

/**
 * The first three of some names, and how many more there are: `a, b, c and 4 more`.
 *
 * @param hint what follows where there are more, such as how to have them all
 */
export function firstNamed(names: readonly string[], hint = ''): string {
  const more = names.length - FIRST;
  return more > 0 ? `${names.slice(0, FIRST).join(', ')} and ${more} more${hint}` : names.join(', ');
}
