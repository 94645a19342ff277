import { LRUCache } from 'lru-cache';
import { type SpectralFrames, spectralFrames } from '../signal/spectral-frames.ts';
import type { SoundFiles } from './sound-files.ts';
import { type SpectrogramTile, writeSpectrogramTile } from './spectrogram-tile.ts';
import { viewRate, viewSampleReader } from './view-samples.ts';

export interface SpectrogramAsked {
  readonly recordingId: number;
  readonly channel: number;
  readonly from: number;
  readonly to: number;
  readonly columns: number;
  readonly highHz: number;
}

const LEAST_HOP_S = 0.002;
/** Windows from about a pulse's length, where pulses are to be seen, to where only trains are. */
const SHORTEST_WINDOW_S = 0.03;
const LONGEST_WINDOW_S = 0.12;
const FLOOR_DB = -130;
const STEP_DB = 0.5;
const MOST_BYTES = 48 * 2 ** 20;

/** Makes spectrogram tiles of windows on demand, and keeps the last ones (48 MB). */
export function spectrogramMaker(files: SoundFiles) {
  const reader = viewSampleReader();
  const made = new LRUCache<string, Uint8Array>({
    maxSize: MOST_BYTES,
    sizeCalculation: (bytes) => bytes.byteLength,
  });

  /** @throws the signal's reason when given up; InputError when the recording cannot be read */
  return async (asked: SpectrogramAsked, signal: AbortSignal): Promise<Uint8Array> => {
    const key = JSON.stringify(asked);
    const held = made.get(key);
    if (held !== undefined) return held;
    const { recordingId, channel, from, to, columns, highHz } = asked;
    const recording = await files.open(recordingId);
    const rate = viewRate(recording.info.sampleRateHz, highHz);
    const endS = Math.min(to, recording.info.durationS);
    const spanS = Math.max(endS - from, LEAST_HOP_S);
    const hop = Math.max(1, Math.round(Math.max(LEAST_HOP_S, spanS / columns) * rate.rateHz));
    const windowS = Math.min(LONGEST_WINDOW_S, Math.max(SHORTEST_WINDOW_S, (3 * hop) / rate.rateHz));
    const windowLength = 2 * Math.round((windowS * rate.rateHz) / 2) + 1;
    // Columns stand on multiples of the hop, so that a window moved on shows the same columns.
    const first = Math.ceil((from * rate.rateHz) / hop);
    const count = Math.max(1, Math.ceil((endS * rate.rateHz) / hop) - first);
    const lead = Math.ceil(windowLength / 2 / hop);
    const { samples } = await reader.read(
      recording,
      recordingId,
      channel,
      rate,
      (first - lead) * hop,
      (first + count + lead) * hop,
      signal,
    );
    signal.throwIfAborted();
    const transformLength = 2 ** Math.ceil(Math.log2(Math.max(windowLength, rate.rateHz / 6)));
    const frames = spectralFrames(samples, rate.rateHz, { windowLength, transformLength, hopLength: hop });
    const bytes = writeSpectrogramTile(tileOf(frames, lead, count, (first * hop) / rate.rateHz, highHz));
    made.set(key, bytes);
    return bytes;
  };
}

/** Levels of the columns `skip` on, as bytes. */
function tileOf(
  { power, binCount, binWidthHz, hopS }: SpectralFrames,
  skip: number,
  columns: number,
  startS: number,
  highHz: number,
): SpectrogramTile {
  const bins = Math.min(binCount, Math.floor(highHz / binWidthHz) + 1);
  const levels = new Uint8Array(columns * bins);
  const counts = new Float64Array(256);
  // 10 log10(p) = 10 log10(2) log2(p)
  const scale = (10 * Math.LOG10E * Math.LN2) / STEP_DB;
  const offset = -FLOOR_DB / STEP_DB;
  for (let column = 0; column < columns; column++) {
    const at = (column + skip) * binCount;
    for (let bin = 0; bin < bins; bin++) {
      const level = Math.round(offset + scale * Math.log2(power[at + bin]! + 1e-20));
      const byte = Math.max(0, Math.min(255, level));
      levels[column * bins + bin] = byte;
      counts[byte]!++;
    }
  }
  const quantile = (share: number) => FLOOR_DB + STEP_DB * byteAt(counts, share * levels.length);
  return {
    columns,
    bins,
    startS,
    hopS,
    lowHz: 0,
    binWidthHz,
    floorDb: FLOOR_DB,
    stepDb: STEP_DB,
    medianDb: quantile(0.5),
    highDb: quantile(0.995),
    levels,
  };
}

function byteAt(counts: Float64Array, rank: number): number {
  let sum = 0;
  for (let byte = 0; byte < counts.length; byte++) {
    sum += counts[byte]!;
    if (sum >= rank) return byte;
  }
  return counts.length - 1;
}
