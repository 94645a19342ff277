import { InputError } from '../input-error.ts';
import type { Random } from '../random.ts';
import { seededRandom } from '../random.ts';
import { openRecording } from '../recording/index.ts';
import { shuffled } from './draws.ts';
import { resample } from './resample.ts';
import type { SampleSource } from './sample-source.ts';

/** Long recordings are used in pieces of at most this length, so that memory stays bounded. */
const LONGEST_PIECE_S = 60;
const KEPT_PIECES = 4;

interface Piece {
  readonly file: string;
  readonly fromS: number;
  readonly lengthS: number;
}

interface PlacedPiece extends Piece {
  readonly startS: number;
}

/**
 * Background out of recordings: all of them in random order, then all again in a fresh order until the length is
 * filled, each at its own level, neighbours cross-faded (sine and cosine, so that their powers add up to one).
 * Of recordings with several channels the first is used. Other sample rates are brought to the one wanted.
 *
 * @param lengthS filled from 0 to here, and a second beyond
 * @throws InputError for a file that cannot be read or is shorter than two cross-fades
 */
export async function fileBackground(
  files: readonly string[],
  seed: number,
  crossFadeS: number,
  lengthS: number,
  sampleRateHz: number,
): Promise<SampleSource> {
  const pieces: Piece[] = [];
  for (const file of files) pieces.push(...(await piecesOf(file, crossFadeS)));
  const placed = placePieces(pieces, crossFadeS, lengthS + 1, seededRandom(seed));
  const kept = new Map<PlacedPiece, Float32Array>();
  const samplesOf = async (piece: PlacedPiece): Promise<Float32Array> => {
    const known = kept.get(piece);
    if (known !== undefined) return known;
    const made = await readPiece(piece, sampleRateHz);
    const first = placed[0] === piece;
    const last = placed[placed.length - 1] === piece;
    fadeEnds(made, Math.round(crossFadeS * sampleRateHz), first, last);
    kept.set(piece, made);
    if (kept.size > KEPT_PIECES) kept.delete(kept.keys().next().value!);
    return made;
  };
  const read = async (firstSample: number, target: Float32Array): Promise<void> => {
    target.fill(0);
    const endSample = firstSample + target.length;
    for (const piece of placed) {
      const startSample = Math.round(piece.startS * sampleRateHz);
      if (startSample >= endSample) break;
      if ((piece.startS + piece.lengthS) * sampleRateHz + 2 < firstSample) continue;
      const samples = await samplesOf(piece);
      const from = Math.max(firstSample, startSample);
      const to = Math.min(endSample, startSample + samples.length);
      for (let place = from; place < to; place++)
        target[place - firstSample]! += samples[place - startSample]!;
    }
  };
  return { sampleRateHz, read, close: async () => kept.clear() };
}

async function piecesOf(file: string, crossFadeS: number): Promise<Piece[]> {
  const recording = await openRecording(file);
  const { durationS } = recording.info;
  await recording.close();
  if (durationS < 2 * crossFadeS + 0.1) {
    throw new InputError({
      file,
      found: `a recording of ${durationS.toFixed(2)} s`,
      wanted: `one of at least ${(2 * crossFadeS + 0.1).toFixed(1)} s, to cross-fade at both ends`,
    });
  }
  const count = Math.ceil(durationS / LONGEST_PIECE_S);
  return Array.from({ length: count }, (_, index) => ({
    file,
    fromS: (index * durationS) / count,
    lengthS: durationS / count,
  }));
}

function placePieces(
  pieces: readonly Piece[],
  crossFadeS: number,
  lengthS: number,
  random: Random,
): PlacedPiece[] {
  const placed: PlacedPiece[] = [];
  let startS = 0;
  for (;;) {
    for (const piece of shuffled(random, pieces)) {
      placed.push({ ...piece, startS });
      if (startS + piece.lengthS > lengthS) return placed;
      startS += piece.lengthS - crossFadeS;
    }
  }
}

async function readPiece(piece: Piece, sampleRateHz: number): Promise<Float32Array> {
  const recording = await openRecording(piece.file);
  try {
    const { sampleRateHz: ownRateHz, frameCount } = recording.info;
    const startFrame = Math.round(piece.fromS * ownRateHz);
    const endFrame = Math.min(frameCount, Math.round((piece.fromS + piece.lengthS) * ownRateHz));
    const samples = new Float32Array(endFrame - startFrame);
    let done = 0;
    for await (const block of recording.blocks(1, { startFrame, endFrame })) {
      samples.set(block, done);
      done += block.length;
    }
    return resample(samples, ownRateHz, sampleRateHz);
  } finally {
    await recording.close();
  }
}

function fadeEnds(samples: Float32Array, fade: number, keepHead: boolean, keepTail: boolean): void {
  for (let index = 0; index < fade; index++) {
    const gain = Math.sin((0.5 * Math.PI * (index + 0.5)) / fade);
    if (!keepHead) samples[index]! *= gain;
    if (!keepTail) samples[samples.length - 1 - index]! *= gain;
  }
}
