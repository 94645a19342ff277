/**
 * Order of two places of an array: the larger value first, of equals the first place. Whole numbers come back, since
 * an engine makes a new object of any other.
 */
export function byValue(values: Float32Array | Float64Array, a: number, b: number): number {
  const first = values[a]!;
  const second = values[b]!;
  if (first > second) return -1;
  return first < second ? 1 : a - b;
}
