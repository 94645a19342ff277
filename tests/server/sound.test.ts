import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { openRecording, writeWave } from '../../src/recording/index.ts';
import { audioExcerpt } from '../../src/server/audio.ts';
import type { SoundFiles } from '../../src/server/sound-files.ts';
import { type SpectrogramAsked, spectrogramMaker } from '../../src/server/spectrogram.ts';
import { readSpectrogramTile, writeSpectrogramTile } from '../../src/server/spectrogram-tile.ts';

vi.setConfig({ testTimeout: 30_000, hookTimeout: 60_000 });

const rateHz = 44_100;
const lengthS = 30;
const never = new AbortController().signal;
let folder = '';
let files: SoundFiles;

/** A tone of 300 Hz and amplitude 0.1 from 10 to 12 s, and one of 1600 Hz throughout, which no tile up to 1 kHz may show. */
function madeSound(): Float32Array {
  return Float32Array.from({ length: rateHz * lengthS }, (_, n) => {
    const time = n / rateHz;
    const tone = time >= 10 && time < 12 ? 0.1 * Math.sin(2 * Math.PI * 300 * time) : 0;
    return tone + 0.1 * Math.sin(2 * Math.PI * 1600 * time);
  });
}

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-sound-'));
  const path = join(folder, 'tone.wav');
  const quiet = new Float32Array(rateHz * lengthS);
  await writeWave(path, { sampleRateHz: rateHz, encoding: 'pcm16', channels: [madeSound(), quiet] });
  const recording = await openRecording(path);
  files = { open: async () => recording, close: recording.close };
});
afterAll(async () => {
  await files.close();
  await rm(folder, { recursive: true, force: true });
});

const asked = (more: Partial<SpectrogramAsked>): SpectrogramAsked => ({
  recordingId: 1,
  channel: 1,
  from: 8,
  to: 14,
  columns: 600,
  highHz: 1000,
  ...more,
});

async function tile(more: Partial<SpectrogramAsked>) {
  const bytes = await spectrogramMaker(files)(asked(more), never);
  return readSpectrogramTile(bytes.slice().buffer as ArrayBuffer);
}

describe('a spectrogram', () => {
  test('shows a tone at its time, frequency and level, and nothing folded back', async () => {
    const { columns, bins, startS, hopS, binWidthHz, levels, floorDb, stepDb } = await tile({});
    const level = (timeS: number, hz: number) => {
      const column = Math.round((timeS - startS) / hopS);
      return floorDb + stepDb * levels[column * bins + Math.round(hz / binWidthHz)]!;
    };
    expect(columns).toBeLessThanOrEqual(601);
    expect((bins - 1) * binWidthHz).toBeLessThanOrEqual(1000);
    // A tone of amplitude a has a power of a²/4 times the window's (Σw)²/Σw²; far more than in any other bin.
    expect(level(11, 300) - level(11, 600)).toBeGreaterThan(50);
    expect(level(11, 300) - level(9.9, 300)).toBeGreaterThan(50);
    expect(level(11, 300) - level(12.1, 300)).toBeGreaterThan(50);
    expect(level(10.05, 300)).toBeCloseTo(level(11, 300), 0);
    for (const hz of [100, 450, 700, 900]) expect(level(13, hz)).toBeLessThan(level(11, 300) - 50);
  });

  test('of a window moved on shows the same columns, cached or not', async () => {
    const make = spectrogramMaker(files);
    const read = async (more: Partial<SpectrogramAsked>) => {
      const bytes = await make(asked(more), never);
      return readSpectrogramTile(bytes.slice().buffer as ArrayBuffer);
    };
    const first = await read({ from: 4, to: 10 });
    const moved = await read({ from: 7, to: 13 });
    const fresh = await tile({ from: 7, to: 13 });
    expect(moved).toEqual(fresh);
    const shift = Math.round((moved.startS - first.startS) / first.hopS);
    expect(moved.startS - first.startS).toBeCloseTo(shift * first.hopS, 9);
    const shared = first.levels.subarray(shift * first.bins);
    expect(moved.levels.subarray(0, shared.length)).toEqual(shared);
  });

  test('reaches from the first sample to the last', async () => {
    const whole = await tile({ from: 0, to: 60, columns: 1000 });
    expect(whole.startS).toBe(0);
    const lastS = whole.startS + (whole.columns - 1) * whole.hopS;
    expect(lastS).toBeGreaterThan(lengthS - 2 * whole.hopS);
    expect(lastS).toBeLessThan(lengthS);
    const silent = await tile({ channel: 2 });
    expect(silent.levels.every((byte) => byte === 0)).toBe(true);
  });

  test('given up in time stops', async () => {
    const gone = AbortSignal.abort();
    await expect(spectrogramMaker(files)(asked({}), gone)).rejects.toThrow(/abort/i);
  });

  test('a tile survives its bytes, and what is no tile is refused', () => {
    const made = {
      columns: 2,
      bins: 3,
      startS: 1.5,
      hopS: 0.004,
      lowHz: 0,
      binWidthHz: 5.25,
      floorDb: -130,
      stepDb: 0.5,
      medianDb: -60,
      highDb: -20.5,
      levels: Uint8Array.of(1, 2, 3, 4, 5, 255),
    };
    const bytes = writeSpectrogramTile(made);
    expect(readSpectrogramTile(bytes.buffer as ArrayBuffer)).toEqual(made);
    expect(() => readSpectrogramTile(bytes.slice(0, -1).buffer as ArrayBuffer)).toThrow(/cut short/);
    expect(() => readSpectrogramTile(new ArrayBuffer(80))).toThrow(/not a spectrogram tile/);
  });
});

describe('an excerpt', () => {
  test('holds the samples of the recording, at its rate', async () => {
    const bytes = await audioExcerpt(files, { recordingId: 1, channel: 1, from: 9.5, to: 10.5 }, never);
    expect(bytes.toString('latin1', 0, 4)).toBe('RIFF');
    expect(bytes.readUInt32LE(24)).toBe(rateHz);
    const body = bytes.subarray(bytes.indexOf('data') + 8);
    expect(body.length).toBe(2 * rateHz);
    const sound = madeSound();
    for (const k of [0, 1, 22_050, 44_099]) {
      const sample = sound[Math.floor(9.5 * rateHz) + k]!;
      expect(body.readInt16LE(2 * k) / 32_768).toBeCloseTo(sample, 4);
    }
  });

  test('ends with the recording', async () => {
    const bytes = await audioExcerpt(files, { recordingId: 1, channel: 2, from: 29.5, to: 90 }, never);
    expect(bytes.length - bytes.indexOf('data') - 8).toBe(rateHz);
  });
});
