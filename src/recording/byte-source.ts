import { type FileHandle, open, stat } from 'node:fs/promises';
import { bisectRight } from 'd3-array';
import { InputError } from '../input-error.ts';

/** What a recording may be, for messages. */
export const soundFileWanted = 'a WAVE, AIFF, FLAC, Ogg Vorbis or MP3 file';

/** A file open for reading at any place. */
export interface ByteSource {
  readonly path: string;
  /** Bytes at opening: a file that is still being written is read as far as it went then. */
  readonly byteLength: number;
  /** Bytes by now. */
  readonly sizeNow: () => Promise<number>;
  /** Reads into `target` from the file's byte `position` on, until it is full or the file ends; bytes read. */
  readonly readInto: (target: Uint8Array, position: number) => Promise<number>;
  readonly close: () => Promise<void>;
}

/**
 * Opens a file for reading.
 *
 * @throws InputError for a missing file, a folder, anything else that is not a plain file, or one that may
 * not be read
 */
export async function openByteSource(path: string): Promise<ByteSource> {
  let handle: FileHandle;
  let byteLength: number;
  try {
    // Looked at before opening: opening a named pipe would wait for its writer.
    const status = await stat(path);
    if (status.isDirectory()) throw notASoundFile(path, 'a folder');
    if (!status.isFile()) throw notASoundFile(path, 'a device or pipe');
    byteLength = status.size;
    handle = await open(path, 'r');
  } catch (error) {
    throw error instanceof InputError ? error : unreadable(path, error);
  }
  const readInto = async (target: Uint8Array, position: number): Promise<number> => {
    let filled = 0;
    while (filled < target.byteLength) {
      const { bytesRead } = await handle
        .read(target, filled, target.byteLength - filled, position + filled)
        .catch((error: unknown) => {
          throw unreadable(path, error, `byte ${position + filled}`);
        });
      if (bytesRead === 0) break;
      filled += bytesRead;
    }
    return filled;
  };
  const sizeNow = async (): Promise<number> => (await handle.stat()).size;
  return { path, byteLength, sizeNow, readInto, close: () => handle.close() };
}

/** A stretch of a file. */
export interface ByteRange {
  readonly at: number;
  readonly byteLength: number;
}

/** Stretches of a file one behind another, read as if nothing lay between them. */
export function joinedSource(source: ByteSource, ranges: readonly ByteRange[]): ByteSource {
  const starts: number[] = [];
  let byteLength = 0;
  for (const range of ranges) {
    starts.push(byteLength);
    byteLength += range.byteLength;
  }
  /** The last range that begins at or before a position. */
  const rangeAt = (position: number): number => bisectRight(starts, position, 1) - 1;
  const readInto = async (target: Uint8Array, position: number): Promise<number> => {
    let filled = 0;
    for (let index = rangeAt(position); index < ranges.length && filled < target.byteLength; index++) {
      const range = ranges[index]!;
      const inside = position + filled - starts[index]!;
      const wanted = Math.min(target.byteLength - filled, range.byteLength - inside);
      if (wanted <= 0) continue;
      const got = await source.readInto(target.subarray(filled, filled + wanted), range.at + inside);
      filled += got;
      if (got < wanted) break;
    }
    return filled;
  };
  return { ...source, byteLength, readInto };
}

/** Reads up to `byteCount` bytes from `position` on, fewer at the end of the file. */
export async function readBytes(source: ByteSource, position: number, byteCount: number): Promise<DataView> {
  const bytes = new Uint8Array(Math.max(0, Math.min(byteCount, source.byteLength - position)));
  const filled = await source.readInto(bytes, position);
  return new DataView(bytes.buffer, 0, filled);
}

/** Characters of a fixed field, one per byte. */
export function latinText(view: DataView, offset: number, length: number): string {
  let text = '';
  const end = Math.min(offset + length, view.byteLength);
  for (let at = offset; at < end; at++) text += String.fromCharCode(view.getUint8(at));
  return text;
}

function notASoundFile(path: string, found: string): InputError {
  return new InputError({ file: path, found, wanted: soundFileWanted });
}

function unreadable(path: string, error: unknown, place?: string): InputError {
  const { code, message } = error as NodeJS.ErrnoException;
  return new InputError({
    file: path,
    ...(place === undefined ? {} : { place }),
    found: code === 'ENOENT' ? 'no such file' : `a file that cannot be read (${code ?? message})`,
    wanted: 'a sound file that may be read',
  });
}
