/**
 * The value that would stand at position `rank` (0-based) if the first `length` values were sorted.
 * Reorders `values` in place. Hoare's selection (Hoare 1961, Commun ACM 4:321), median of three as pivot.
 */
export function selectRank(values: Float32Array | Float64Array, length: number, rank: number): number {
  let low = 0;
  let high = length - 1;
  while (low < high) {
    const a = values[low]!;
    const b = values[(low + high) >> 1]!;
    const c = values[high]!;
    const pivot = Math.max(Math.min(a, b), Math.min(Math.max(a, b), c));
    let i = low;
    let j = high;
    while (i <= j) {
      while (values[i]! < pivot) i++;
      while (values[j]! > pivot) j--;
      if (i <= j) {
        const swap = values[i]!;
        values[i] = values[j]!;
        values[j] = swap;
        i++;
        j--;
      }
    }
    if (rank <= j) high = j;
    else if (rank >= i) low = i;
    else break;
  }
  return values[rank]!;
}

/** Median of a list, which is left as it is; NaN for an empty one. */
export function medianOf(values: ArrayLike<number>): number {
  const sorted = new Float64Array(values).sort();
  const middle = sorted.length >> 1;
  if (sorted.length === 0) return Number.NaN;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}

/** Mean of a list; NaN for an empty one. */
export function meanOf(values: ArrayLike<number>): number {
  let sum = 0;
  for (let k = 0; k < values.length; k++) sum += values[k]!;
  return sum / values.length;
}

/** Standard deviation of a list with n − 1; NaN for fewer than two values. */
export function deviationOf(values: ArrayLike<number>): number {
  const mean = meanOf(values);
  let sum = 0;
  for (let k = 0; k < values.length; k++) sum += (values[k]! - mean) ** 2;
  return values.length < 2 ? Number.NaN : Math.sqrt(sum / (values.length - 1));
}
