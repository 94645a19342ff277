/**
 * Gives room for numbers that is kept from one use to the next, which saves the time to clear it and to give it back:
 * what it was given last is lost, and what stands in it is anything.
 */
export function keptRoom(): (length: number) => Float32Array {
  let room = new Float32Array(0);
  return (length) => {
    if (room.length < length) room = new Float32Array(length);
    return room.subarray(0, length);
  };
}
