import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';
import { pipeline } from 'node:stream/promises';

/**
 * SHA-256 of a file's bytes, hexadecimal.
 *
 * @param onBytes told how many bytes were read since it was last told
 */
export async function fileSha256(path: string, onBytes?: (count: number) => void): Promise<string> {
  const hash = createHash('sha256');
  const bytes = createReadStream(path, { highWaterMark: 1 << 20 });
  if (onBytes !== undefined) bytes.on('data', (block) => onBytes(block.length));
  await pipeline(bytes, hash);
  return hash.digest('hex');
}
