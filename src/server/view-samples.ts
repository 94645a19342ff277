import { LRUCache } from 'lru-cache';
import type { Recording } from '../recording/index.ts';
import { decimatingFir } from '../signal/decimator.ts';
import { lowpassTaps } from '../signal/lowpass.ts';

/** How a recording is brought down to a rate at which a picture up to `highHz` can be drawn. */
export interface ViewRate {
  readonly factor: number;
  readonly rateHz: number;
  readonly taps: Float64Array;
}

const ATTENUATION_DB = 60;
/** The rate is at least this times the highest frequency shown, so that what folds back stays above it. */
const OVERSAMPLING = 2.6;

export function viewRate(sampleRateHz: number, highHz: number): ViewRate {
  const factor = Math.max(1, Math.floor(sampleRateHz / (OVERSAMPLING * highHz)));
  const rateHz = sampleRateHz / factor;
  const taps =
    factor === 1
      ? Float64Array.of(1)
      : lowpassTaps(sampleRateHz, 1.02 * highHz, rateHz - 1.02 * highHz, ATTENUATION_DB);
  return { factor, rateHz, taps };
}

/** Samples at a view's rate; sample k stands at (first + k) / rateHz of the recording. */
export interface ViewSamples {
  readonly samples: Float32Array;
  readonly first: number;
}

export interface ViewSampleReader {
  /** Samples `from` up to `to` at the view's rate; zeros outside the recording. */
  readonly read: (
    recording: Recording,
    recordingId: number,
    channel: number,
    rate: ViewRate,
    from: number,
    to: number,
    signal: AbortSignal,
  ) => Promise<ViewSamples>;
}

const TILE_S = 2;
const MOST_BYTES = 48 * 2 ** 20;

/**
 * Reads decimated samples in tiles of 2 s, the last used of which are kept (48 MB): moving on by half a window
 * reads only the new half.
 */
export function viewSampleReader(): ViewSampleReader {
  const tiles = new LRUCache<string, Float32Array>({
    maxSize: MOST_BYTES,
    sizeCalculation: (tile) => tile.byteLength + 64,
  });
  return {
    read: async (recording, recordingId, channel, rate, from, to, signal) => {
      const size = Math.round(TILE_S * rate.rateHz);
      const keyOf = (index: number) => [recordingId, channel, rate.factor, rate.taps.length, index].join('/');
      const samples = new Float32Array(to - from);
      const place = (tile: Float32Array, index: number) => {
        const at = index * size - from;
        const part = tile.subarray(Math.max(0, -at), Math.max(0, Math.min(size, to - index * size)));
        samples.set(part, Math.max(0, at));
      };
      const end = Math.floor((to - 1) / size) + 1;
      for (let index = Math.floor(from / size); index < end; ) {
        const held = tiles.get(keyOf(index));
        if (held !== undefined) {
          place(held, index++);
          continue;
        }
        // All that are missing in a row are read in one go.
        let next = index + 1;
        while (next < end && !tiles.has(keyOf(next))) next++;
        const run = await decimated(recording, channel, rate, index * size, next * size, signal);
        for (let at = 0; index < next; index++, at += size) {
          const tile = run.slice(at, at + size);
          tiles.set(keyOf(index), tile);
          place(tile, index);
        }
      }
      return { samples, first: from };
    },
  };
}

/** Samples `from` up to `to` at a view's rate, read as a stream; zeros outside the recording. */
async function decimated(
  recording: Recording,
  channel: number,
  { factor, taps }: ViewRate,
  from: number,
  to: number,
  signal: AbortSignal,
): Promise<Float32Array> {
  const half = (taps.length - 1) / 2;
  // What the filter needs before the first, in whole kept samples, so that the grid is the recording's.
  const lead = Math.ceil(half / factor);
  const filter = decimatingFir(taps, factor);
  const result = new Float32Array(to - from);
  let at = -lead;
  for await (const block of samplesBetween(recording, channel, (from - lead) * factor, to * factor + half)) {
    signal.throwIfAborted();
    const kept = filter.push(block);
    const skipped = Math.max(0, -at);
    result.set(kept.subarray(skipped, Math.max(skipped, result.length - at)), Math.max(0, at));
    at += kept.length;
  }
  return result;
}

/** Blocks of one channel from frame `from` up to `to`, with zeros for what lies outside the recording. */
async function* samplesBetween(
  recording: Recording,
  channel: number,
  from: number,
  to: number,
): AsyncGenerator<Float32Array> {
  const { frameCount } = recording.info;
  const startFrame = Math.min(frameCount, Math.max(0, from));
  const endFrame = Math.max(startFrame, Math.min(frameCount, to));
  if (from < startFrame) yield new Float32Array(Math.min(to, startFrame) - from);
  yield* recording.blocks(channel, { startFrame, endFrame, blockFrames: BLOCK_FRAMES });
  if (to > endFrame) yield new Float32Array(to - Math.max(from, endFrame));
}

const BLOCK_FRAMES = 32_768;
