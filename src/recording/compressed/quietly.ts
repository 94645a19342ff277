/**
 * Calls a decoder that reports damaged sound on the console as well as in its result, and keeps it from doing so:
 * stderr is for the program's own lines. Only what runs before the call first gives way is kept quiet.
 */
export function quietly<T>(decode: () => T): T {
  const { error } = console;
  console.error = () => undefined;
  try {
    return decode();
  } finally {
    console.error = error;
  }
}
