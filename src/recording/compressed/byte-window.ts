import type { ByteSource } from '../byte-source.ts';

const longestStepBytes = 256 * 1024;

/** A stretch of a file in memory that moves forward through it. */
export interface ByteWindow {
  /** The bytes in memory; valid until the next call of `more`. */
  readonly bytes: () => Uint8Array;
  /** Where in the file they begin. */
  readonly at: () => number;
  /** Drops so many bytes at the front and reads more behind. @returns false at the end of the file */
  readonly more: (drop: number) => Promise<boolean>;
}

/** Moves through a file from `from` on, up to `to`. */
export function byteWindow(source: ByteSource, from: number, to: number): ByteWindow {
  const stepBytes = Math.min(longestStepBytes, Math.max(1, to - from));
  let buffer = new Uint8Array(2 * stepBytes);
  let begin = 0;
  let end = 0;
  let fileAt = from;
  const more = async (drop: number): Promise<boolean> => {
    begin += drop;
    fileAt += drop;
    const held = end - begin;
    if (held + stepBytes > buffer.length) {
      const larger = new Uint8Array(2 * buffer.length);
      larger.set(buffer.subarray(begin, end));
      buffer = larger;
    } else if (end + stepBytes > buffer.length) {
      buffer.copyWithin(0, begin, end);
    } else {
      return read();
    }
    begin = 0;
    end = held;
    return read();
  };
  const read = async (): Promise<boolean> => {
    const wanted = Math.min(stepBytes, to - fileAt - (end - begin));
    if (wanted <= 0) return false;
    const got = await source.readInto(buffer.subarray(end, end + wanted), fileAt + end - begin);
    end += got;
    return got > 0;
  };
  return { bytes: () => buffer.subarray(begin, end), at: () => fileAt, more };
}
