/** Gives an array of some length. */
export type Room<A extends Float32Array | Float64Array> = (length: number) => A;

/**
 * Room for numbers that is kept from one use to the next, which saves the time to clear it and to give it back: what
 * it was given last is lost, and what stands in it is anything.
 */
export function keptRoom<A extends Float32Array | Float64Array>(kind: new (length: number) => A): Room<A> {
  let room = new kind(0);
  return (length) => {
    if (room.length < length) room = new kind(length);
    return room.subarray(0, length) as A;
  };
}
