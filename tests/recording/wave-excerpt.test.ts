import { mkdtemp, readdir, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openRecording, type WaveEncoding, writeExcerpt, writeWave } from '../../src/recording/index.ts';

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-excerpt-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));
const at = (name: string) => join(folder, name);

const sine = (step: number) => Float32Array.from({ length: 100_003 }, (_, k) => 0.7 * Math.sin(step * k));

async function samples(path: string, channel: number, startFrame = 0, endFrame?: number): Promise<number[]> {
  const recording = await openRecording(path);
  const range = endFrame === undefined ? { startFrame } : { startFrame, endFrame };
  const all: number[] = [];
  for await (const block of recording.blocks(channel, range)) all.push(...block);
  await recording.close();
  return all;
}

/** Chunks of a RIFF file, as any reader would walk them. */
function chunksOf(bytes: Buffer, from = 12, to = bytes.length): { id: string; body: Buffer }[] {
  const chunks: { id: string; body: Buffer }[] = [];
  for (let at = from; at < to; ) {
    const size = bytes.readUInt32LE(at + 4);
    chunks.push({ id: bytes.toString('latin1', at, at + 4), body: bytes.subarray(at + 8, at + 8 + size) });
    at += 8 + size + (size % 2);
  }
  return chunks;
}

describe('an excerpt', () => {
  test.each(['pcm8', 'pcm16', 'pcm24', 'float32'] as WaveEncoding[])(
    'of %s holds the very samples',
    async (encoding) => {
      const [from, to] = [at(`${encoding}.wav`), at(`${encoding}-excerpt.wav`)];
      await writeWave(from, { sampleRateHz: 8000, encoding, channels: [sine(0.01), sine(0.02), sine(0.03)] });
      await writeExcerpt(from, to, {
        startFrame: 1001,
        endFrame: 90_002,
        marks: [],
        startTime: '2031-06-14T09:30:05',
      });
      const { info, close } = await openRecording(to);
      await close();
      expect(info).toMatchObject({
        encoding,
        channelCount: 3,
        frameCount: 89_001,
        sampleRateHz: 8000,
        warnings: [],
      });
      expect(info.startTime).toBe('2031-06-14T09:30:05');
      for (const channel of [1, 3])
        expect(await samples(to, channel)).toEqual(await samples(from, channel, 1001, 90_002));
    },
  );

  test('carries its marks as cue points with labels and lengths, in chunks that add up', async () => {
    await writeWave(at('whole.wav'), { sampleRateHz: 8000, encoding: 'pcm8', channels: [sine(0.01)] });
    const marks = [
      { startFrame: 0, frameCount: 40, label: 'run 1' },
      { startFrame: 333, frameCount: 667, label: 'Bienenstöcke' },
    ];
    await writeExcerpt(at('whole.wav'), at('marked.wav'), {
      startFrame: 0,
      endFrame: 1001,
      marks,
      startTime: null,
    });
    const bytes = await readFile(at('marked.wav'));
    expect(bytes.readUInt32LE(4)).toBe(bytes.length - 8);
    const chunks = chunksOf(bytes);
    expect(chunks.map(({ id }) => id)).toEqual(['fmt ', 'data', 'cue ', 'LIST']);
    expect(chunks[1]!.body.length).toBe(1001);
    const cue = chunks[2]!.body;
    expect(cue.length).toBe(4 + 2 * 24);
    expect(cue.readUInt32LE(0)).toBe(2);
    expect(cue.toString('latin1', 4 + 24 + 8, 4 + 24 + 12)).toBe('data');
    expect(cue.readUInt32LE(4 + 24)).toBe(2);
    expect(cue.readUInt32LE(4 + 24 + 20)).toBe(333);
    const list = chunks[3]!.body;
    expect(list.toString('latin1', 0, 4)).toBe('adtl');
    const notes = chunksOf(list, 4);
    expect(notes.map(({ id }) => id)).toEqual(['labl', 'ltxt', 'labl', 'ltxt']);
    expect(notes[2]!.body.toString('utf8', 4)).toBe('Bienenstöcke\0');
    expect([0, 4].map((k) => notes[3]!.body.readUInt32LE(k))).toEqual([2, 667]);
    expect(notes[3]!.body.toString('latin1', 8, 12)).toBe('rgn ');
    const { info, close } = await openRecording(at('marked.wav'));
    await close();
    expect(info).toMatchObject({ frameCount: 1001, warnings: [] });
  });

  test('outside its recording is refused, and leaves nothing behind', async () => {
    await writeWave(at('short.wav'), { sampleRateHz: 8000, encoding: 'pcm16', channels: [sine(0.01)] });
    const stretch = { startFrame: 5, endFrame: 100_004, marks: [], startTime: null };
    await expect(writeExcerpt(at('short.wav'), at('no.wav'), stretch)).rejects.toThrow(
      /short\.wav: found frames 5 to 100004; wanted a stretch within its 100003 frames/,
    );
    const nowhere = writeExcerpt(at('short.wav'), at('no/such.wav'), { ...stretch, endFrame: 10 });
    await expect(nowhere).rejects.toThrow(/a place that cannot be written/);
    expect((await readdir(folder)).filter((name) => /no|part|tmp/.test(name))).toEqual([]);
  });
});
