/**
 * A quantile over a window that slides, for many rows of positive numbers side by side. Values are counted in
 * classes of a sixteenth of an octave (the sign-free exponent and first four bits of the mantissa of a 32-bit
 * float, which rise with the value), and the quantile is placed within its class by its rank: it stands within
 * one part in a hundred of the sorted window's, at a cost for each value that does not grow with the window.
 *
 * Source: the running median by histogram, Huang, Yang & Tang 1979, IEEE Trans ASSP 27:13 (from memory).
 */
export interface RunningQuantiles {
  /** Takes a value (> 0; others are passed over) into a row's window. */
  readonly add: (row: number, value: number) => void;
  /** Takes one out that was added before. */
  readonly remove: (row: number, value: number) => void;
  /** The quantile of a row's window; 0 for an empty one. */
  readonly quantile: (row: number) => number;
}

const DROPPED_BITS = 19;
const CLASS_COUNT = 1 << (31 - DROPPED_BITS);

/** @param share which quantile, 0 up to 1: the value at position floor(share · n) of n sorted ones */
export function runningQuantiles(rowCount: number, share: number): RunningQuantiles {
  const asFloat = new Float32Array(1);
  const asBits = new Int32Array(asFloat.buffer);
  const counts = new Uint16Array(rowCount * CLASS_COUNT);
  const sizes = new Int32Array(rowCount);
  /** The class in which each row's quantile was last found, and how many values lie in classes below it. */
  const at = new Int32Array(rowCount);
  const below = new Int32Array(rowCount);

  const shift = (row: number, value: number, by: 1 | -1): void => {
    if (!(value > 0)) return;
    asFloat[0] = value;
    const cls = asBits[0]! >> DROPPED_BITS;
    counts[row * CLASS_COUNT + cls]! += by;
    sizes[row]! += by;
    if (cls < at[row]!) below[row]! += by;
  };
  const classStart = (cls: number): number => {
    asBits[0] = cls << DROPPED_BITS;
    return asFloat[0]!;
  };
  return {
    add: (row, value) => shift(row, value, 1),
    remove: (row, value) => shift(row, value, -1),
    quantile: (row) => {
      const size = sizes[row]!;
      if (size === 0) return 0;
      const rank = Math.floor(share * size);
      const first = row * CLASS_COUNT;
      let cls = at[row]!;
      let less = below[row]!;
      while (less > rank) less -= counts[first + --cls]!;
      while (less + counts[first + cls]! <= rank) less += counts[first + cls++]!;
      at[row] = cls;
      below[row] = less;
      const low = classStart(cls);
      return low + ((classStart(cls + 1) - low) * (rank - less + 0.5)) / counts[first + cls]!;
    },
  };
}
