/**
 * The treatments that a curve is fitted to where nobody names one: empty and `reference`; failing those, the only one
 * there is. Empty when several could be meant.
 *
 * @param treatments of dances, null where none was noted
 */
export function referenceTreatments(treatments: readonly (string | null)[]): ReadonlySet<string | null> {
  const distinct = new Set(treatments);
  const plain = [...distinct].filter((treatment) => treatment === null || treatment === 'reference');
  if (plain.length > 0) return new Set(plain);
  return distinct.size === 1 ? distinct : new Set();
}
