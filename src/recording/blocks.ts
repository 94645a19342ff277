import { InputError } from '../input-error.ts';
import type { ByteSource } from './byte-source.ts';
import { headRoomBytes, type PieceConverter } from './convert.ts';

/** A run of equally spaced frames in a file. */
export interface FrameStore {
  readonly source: ByteSource;
  /** Where frame 0 begins. */
  readonly soundAt: number;
  readonly frameBytes: number;
}

// One read of the file: large enough that a call costs little beside the copying, small enough for the cache.
const pieceBytes = 512 * 1024;

/**
 * Streams frames `startFrame` up to `endFrame` as blocks of `blockFrames` samples of one channel. The next
 * piece of the file is read while the present one is converted and used. Blocks are views on one buffer.
 *
 * @param convert takes a piece of the file to samples
 * @param look sees, and may change, every run of samples once, with the frame it begins with
 * @throws InputError when the file ends before `endFrame`
 */
export async function* frameBlocks(
  store: FrameStore,
  range: { readonly startFrame: number; readonly endFrame: number; readonly blockFrames: number },
  convert: PieceConverter,
  look: ((startFrame: number, samples: Float32Array) => void) | null,
): AsyncGenerator<Float32Array> {
  const { startFrame, endFrame } = range;
  if (startFrame >= endFrame) return;
  const pieceFrames = Math.max(1, Math.floor(pieceBytes / store.frameBytes));
  const blockFrames = Math.min(range.blockFrames, endFrame - startFrame);
  // The samples of one batch are whole blocks: many small ones from one piece, or a large one from many.
  const blocksAsked = Math.ceil((endFrame - startFrame) / blockFrames);
  const batchFrames = blockFrames * Math.min(blocksAsked, Math.max(1, Math.floor(pieceFrames / blockFrames)));
  const batch = new Float32Array(batchFrames);
  const bufferBytes = headRoomBytes + Math.min(pieceFrames, batchFrames) * store.frameBytes;
  const buffers = [new ArrayBuffer(bufferBytes), new ArrayBuffer(bufferBytes)] as const;

  const pieceEnd = (frame: number): number => {
    const batchEnd = frame + batchFrames - ((frame - startFrame) % batchFrames);
    return Math.min(frame + pieceFrames, batchEnd, endFrame);
  };
  let turn: 0 | 1 = 0;
  let frame = startFrame;
  let pending = readAhead(store, buffers[turn], frame, pieceEnd(frame));
  try {
    while (frame < endFrame) {
      await pending;
      const piece = buffers[turn];
      const end = pieceEnd(frame);
      turn = turn === 0 ? 1 : 0;
      if (end < endFrame) pending = readAhead(store, buffers[turn], end, pieceEnd(end));

      const batchAt = (frame - startFrame) % batchFrames;
      const filledTo = batchAt + end - frame;
      const samples = batch.subarray(batchAt, filledTo);
      convert(piece, end - frame, samples);
      look?.(frame, samples);
      frame = end;
      const isComplete = filledTo === batchFrames || frame === endFrame;
      if (isComplete) yield* cut(batch.subarray(0, filledTo), blockFrames);
    }
  } finally {
    // A reader who stops early leaves a read under way into buffers of ours.
    await pending.catch(() => undefined);
  }
}

function* cut(samples: Float32Array, blockFrames: number): Generator<Float32Array> {
  for (let at = 0; at < samples.length; at += blockFrames) yield samples.subarray(at, at + blockFrames);
}

/** `readPiece`, begun early: a failure waits for whoever awaits it, instead of ending the process. */
function readAhead(store: FrameStore, buffer: ArrayBuffer, from: number, to: number): Promise<void> {
  const reading = readPiece(store, buffer, from, to);
  reading.catch(() => undefined);
  return reading;
}

async function readPiece(store: FrameStore, buffer: ArrayBuffer, from: number, to: number): Promise<void> {
  const target = new Uint8Array(buffer, headRoomBytes, (to - from) * store.frameBytes);
  const filled = await store.source.readInto(target, store.soundAt + from * store.frameBytes);
  if (filled === target.byteLength) return;
  const frame = from + Math.floor(filled / store.frameBytes);
  throw new InputError({
    file: store.source.path,
    place: `frame ${frame}`,
    found: 'the end of the file, which has become shorter since it was opened',
    wanted: 'a file that stays as it is while it is read',
  });
}
