/**
 * A quantile over a window that slides, for many rows of positive numbers side by side. Values are counted in
 * classes of a sixteenth of an octave (the sign-free exponent and first four bits of the mantissa of a 32-bit
 * float, which rise with the value), and the quantile is placed within its class by its rank: it stands within
 * one part in a hundred of the sorted window's, at a cost for each value that does not grow with the window.
 *
 * Source: the running median by histogram, Huang, Yang & Tang 1979, IEEE Trans ASSP 27:13 (from memory).
 */
export interface RunningQuantiles {
  /** Takes a value (> 0; others are passed over) into each row's window: into that of row r the one at `from + r`. */
  readonly add: (from: number) => void;
  /** Takes out what `add` took in from there. */
  readonly remove: (from: number) => void;
  /** The quantile of a row's window; 0 for an empty one. */
  readonly quantile: (row: number) => number;
}

const DROPPED_BITS = 19;
const CLASS_COUNT = 1 << (31 - DROPPED_BITS);
const INFINITY_BITS = 0x7f80_0000;

/** What is counted of each row. */
interface Counts {
  /** Values in each class: `inClass[row * CLASS_COUNT + class]`. */
  readonly inClass: Uint16Array;
  readonly sizes: Int32Array;
  /** The class in which each row's quantile was last found, and how many values lie in classes below it. */
  readonly at: Int32Array;
  readonly below: Int32Array;
}

/**
 * @param values what the windows slide over
 * @param share which quantile, 0 up to 1: the value at position floor(share · n) of n sorted ones
 */
export function runningQuantiles(values: Float32Array, rowCount: number, share: number): RunningQuantiles {
  const bits = new Int32Array(values.buffer, values.byteOffset, values.length);
  const counts: Counts = {
    inClass: new Uint16Array(rowCount * CLASS_COUNT),
    sizes: new Int32Array(rowCount),
    at: new Int32Array(rowCount),
    below: new Int32Array(rowCount),
  };
  return {
    add: (from) => countRows(counts, bits, from, 1),
    remove: (from) => countRows(counts, bits, from, -1),
    quantile: (row) => quantileOf(counts, row, share),
  };
}

function countRows(counts: Counts, bits: Int32Array, from: number, by: 1 | -1): void {
  const { inClass, sizes, at, below } = counts;
  for (let row = 0; row < sizes.length; row++) {
    const value = bits[from + row]!;
    // As whole numbers the bits of numbers over zero lie between these; those of zero, negatives and NaN do not.
    if (value <= 0 || value > INFINITY_BITS) continue;
    const cls = value >> DROPPED_BITS;
    inClass[row * CLASS_COUNT + cls]! += by;
    sizes[row]! += by;
    if (cls < at[row]!) below[row]! += by;
  }
}

function quantileOf({ inClass, sizes, at, below }: Counts, row: number, share: number): number {
  const size = sizes[row]!;
  if (size === 0) return 0;
  const rank = Math.floor(share * size);
  const first = row * CLASS_COUNT;
  let cls = at[row]!;
  let less = below[row]!;
  while (less > rank) less -= inClass[first + --cls]!;
  while (less + inClass[first + cls]! <= rank) less += inClass[first + cls++]!;
  at[row] = cls;
  below[row] = less;
  const low = classStart(cls);
  return low + ((classStart(cls + 1) - low) * (rank - less + 0.5)) / inClass[first + cls]!;
}

const asFloat = new Float32Array(1);
const asBits = new Int32Array(asFloat.buffer);

/** The least value of a class. */
function classStart(cls: number): number {
  asBits[0] = cls << DROPPED_BITS;
  return asFloat[0]!;
}
