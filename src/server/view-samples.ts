import { LRUCache } from 'lru-cache';
import type { Recording } from '../recording/index.ts';
import { decimatingFir } from '../signal/decimator.ts';
import { lowpassTaps } from '../signal/lowpass.ts';
import { readSamples } from './sound-files.ts';

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

const TILE_S = 8;
const MOST_BYTES = 48 * 2 ** 20;

/**
 * Reads decimated samples in tiles of 8 s, the last used of which are kept (48 MB): moving on by half a window
 * reads only the new half.
 */
export function viewSampleReader(): ViewSampleReader {
  const tiles = new LRUCache<string, Float32Array>({
    maxSize: MOST_BYTES,
    sizeCalculation: (tile) => tile.byteLength + 64,
  });
  const tileOf: (...where: TilePlace) => Promise<Float32Array> = async (...where) => {
    const [, recordingId, channel, rate, tileSamples, index] = where;
    const key = `${recordingId}/${channel}/${rate.factor}/${rate.taps.length}/${tileSamples}/${index}`;
    const held = tiles.get(key);
    if (held !== undefined) return held;
    const made = await makeTile(...where);
    tiles.set(key, made);
    return made;
  };
  return {
    read: async (recording, recordingId, channel, rate, from, to, signal) => {
      const tileSamples = Math.round(TILE_S * rate.rateHz);
      const firstTile = Math.floor(from / tileSamples);
      const lastTile = Math.floor((to - 1) / tileSamples);
      const samples = new Float32Array(to - from);
      for (let index = firstTile; index <= lastTile; index++) {
        const tile = await tileOf(recording, recordingId, channel, rate, tileSamples, index, signal);
        const at = index * tileSamples - from;
        const part = tile.subarray(
          Math.max(0, -at),
          Math.max(0, Math.min(tileSamples, to - index * tileSamples)),
        );
        samples.set(part, Math.max(0, at));
      }
      return { samples, first: from };
    },
  };
}

type TilePlace = [
  recording: Recording,
  recordingId: number,
  channel: number,
  rate: ViewRate,
  tileSamples: number,
  index: number,
  signal: AbortSignal,
];

async function makeTile(...[recording, , channel, rate, tileSamples, index, signal]: TilePlace) {
  const { factor, taps } = rate;
  const half = (taps.length - 1) / 2;
  // What the filter needs before the tile, in whole kept samples, so that the grid is the recording's.
  const lead = Math.ceil(half / factor);
  const firstKept = index * tileSamples;
  const samples = await readSamples(
    recording,
    channel,
    (firstKept - lead) * factor,
    (firstKept + tileSamples) * factor + half,
    signal,
  );
  if (factor === 1) return samples;
  return decimatingFir(taps, factor)
    .push(samples)
    .slice(lead, lead + tileSamples);
}
