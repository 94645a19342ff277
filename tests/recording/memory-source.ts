import type { ByteSource } from '../../src/recording/byte-source.ts';

/** Bytes in memory, read like a file. */
export function memorySource(path: string, bytes: Uint8Array): ByteSource {
  const readInto = async (target: Uint8Array, position: number): Promise<number> => {
    const part = bytes.subarray(position, position + target.byteLength);
    target.set(part);
    return part.byteLength;
  };
  const { byteLength } = bytes;
  return { path, byteLength, sizeNow: async () => byteLength, readInto, close: async () => undefined };
}
