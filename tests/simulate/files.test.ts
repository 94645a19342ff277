import { mkdtemp, readdir, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Command } from 'commander';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { registerSimulate } from '../../src/cli/simulate.ts';
import { InputError } from '../../src/input-error.ts';
import { openRecording, writeWave } from '../../src/recording/index.ts';
import { backgroundFiles } from '../../src/simulate/background-folder.ts';
import { simulateHive, simulateSound } from '../../src/simulate/simulate-hive.ts';
import { pulseSchema } from '../../src/simulate/truth.ts';
import { readTable } from '../../src/study/csv.ts';
import { callSchema, danceSchema, trainSchema } from '../../src/study/tables.ts';

// Long recordings on a machine that may be busy.
vi.setConfig({ testTimeout: 60_000 });

let folder: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'simulate-'));
});
afterAll(() => rm(folder, { recursive: true }));

/** A tone for each clip, so that one can tell which clip sounds where. */
async function toneClip(name: string, frequencyHz: number, amplitude: number, sampleRateHz: number) {
  const samples = Float32Array.from(
    { length: 4 * sampleRateHz },
    (_, index) => amplitude * Math.sin((2 * Math.PI * frequencyHz * index) / sampleRateHz),
  );
  const path = join(folder, name);
  await writeWave(path, { sampleRateHz, encoding: 'float32', channels: [samples] });
  return path;
}

function differences(a: Float32Array, b: Float32Array): number {
  return a.reduce((count, sample, index) => count + (sample === b[index] ? 0 : 1), 0);
}

function toneAmplitude(samples: Float32Array, frequencyHz: number, sampleRateHz: number): number {
  let [real, imaginary] = [0, 0];
  samples.forEach((sample, index) => {
    real += sample * Math.cos((2 * Math.PI * frequencyHz * index) / sampleRateHz);
    imaginary += sample * Math.sin((2 * Math.PI * frequencyHz * index) / sampleRateHz);
  });
  return (2 * Math.hypot(real, imaginary)) / samples.length;
}

describe('simulateHive', () => {
  it('writes the same bytes for the same seed, and tables that fit their schemas', async () => {
    const options = { seed: 9, lengthS: 40, dancesPerHour: 300, startTime: '2030-06-01T23:59:50+02:00' };
    const first = await simulateHive(join(folder, 'one'), 'hive', options);
    const second = await simulateHive(join(folder, 'two'), 'hive', options);
    expect(await readdir(join(folder, 'one'))).toEqual(['hive-truth', 'hive.wav']);
    const same = async (a: string, b: string) => (await readFile(a)).equals(await readFile(b));
    expect(await same(first.recordingPath, second.recordingPath)).toBe(true);
    const tables = ['trains.csv', 'calls.csv', 'dances.csv', 'pulses.csv', 'simulation.json'];
    expect((await readdir(first.truthFolder)).sort()).toEqual([...tables].sort());
    for (const table of tables) {
      expect(await same(join(first.truthFolder, table), join(second.truthFolder, table))).toBe(true);
    }
    const rowsOf = async <S extends typeof trainSchema | typeof callSchema | typeof danceSchema>(
      table: string,
      schema: S,
    ) => (await readTable(join(first.truthFolder, table), schema)).map(({ row }) => row);
    const trains = await rowsOf('trains.csv', trainSchema);
    expect(trains).toEqual(first.truth.trains);
    expect(trains.length).toBeGreaterThan(5);
    expect(trains[trains.length - 1]!.start_time).toMatch(/^2030-06-02T00:00:\d\d\.\d{3}\+02:00$/);
    expect(await rowsOf('calls.csv', callSchema)).toEqual(first.truth.calls);
    expect(await rowsOf('dances.csv', danceSchema)).toEqual(first.truth.dances);
    const pulses = await readTable(join(first.truthFolder, 'pulses.csv'), pulseSchema);
    expect(pulses.map(({ row }) => row)).toEqual(first.truth.pulses);
    const { info, close } = await openRecording(first.recordingPath);
    expect(info).toMatchObject({
      sampleRateHz: 8000,
      channelCount: 1,
      encoding: 'pcm16',
      frameCount: 320_000,
    });
    await close();
  });

  it('writes what simulateSound holds in memory, to every microphone', async () => {
    const options = {
      seed: 10,
      lengthS: 10,
      dancesPerHour: 400,
      encoding: 'float32',
      microphones: [{}, { gainDb: -6, delayS: 0.001, noiseDb: null }],
    } as const;
    const { recordingPath } = await simulateHive(join(folder, 'two-mics'), 'hive', options);
    const { channels } = await simulateSound(options);
    const recording = await openRecording(recordingPath);
    for (const channel of [1, 2]) {
      let first = 0;
      for await (const block of recording.blocks(channel)) {
        expect(differences(block, channels[channel - 1]!.subarray(first))).toBe(0);
        first += block.length;
      }
      expect(first).toBe(80_000);
    }
    await recording.close();
    // 1 ms is 8 samples, −6 dB about a half.
    const [near, far] = channels as [Float32Array, Float32Array];
    for (const sample of [100, 5000, 60_000]) {
      expect(far[sample]).toBeCloseTo(10 ** (-6 / 20) * near[sample - 8]!, 6);
    }
  });

  it('refuses options that make no sense, by name', async () => {
    await expect(simulateHive(folder, 'bad', { sampleRateHz: 100 })).rejects.toThrow(
      /simulation options, sampleRateHz: found 100; wanted/,
    );
    await expect(simulateHive(folder, 'bad', { snr: 3 } as object)).rejects.toThrow(InputError);
    await expect(
      simulateHive(folder, 'bad', {
        treatments: [
          { treatment: 'a', share: 0.7 },
          { treatment: 'b', share: 0.7 },
        ],
      }),
    ).rejects.toThrow(/treatments: found shares that sum to 1.4/);
    expect((await readdir(folder)).filter((name) => name.startsWith('bad'))).toEqual([]);
  });
});

describe('backgrounds out of files', () => {
  it('lays clips end to end at their own levels and at the wanted rate', async () => {
    const files = [
      await toneClip('low.wav', 300, 0.1, 8000),
      await toneClip('mid.wav', 700, 0.2, 8000),
      await toneClip('high.wav', 1100, 0.05, 44_100),
    ];
    const { channels, rendering } = await simulateSound({
      seed: 3,
      lengthS: 25,
      sampleRateHz: 16_000,
      dancesPerHour: 0,
      calls: { scale: 0 },
      background: { kind: 'files', files },
    });
    const tones = [
      [300, 0.1],
      [700, 0.2],
      [1100, 0.05],
    ] as const;
    const seen = new Map<number, number>();
    const block = 0.25 * 16_000;
    for (let first = 0; first + block <= channels[0]!.length; first += block) {
      const piece = channels[0]!.subarray(first, first + block);
      for (const [frequencyHz, amplitude] of tones) {
        const share = toneAmplitude(piece, frequencyHz, 16_000) / amplitude;
        expect(share).toBeLessThan(1.02);
        if (share > 0.99) seen.set(frequencyHz, (seen.get(frequencyHz) ?? 0) + 1);
      }
    }
    // 25 s in clips of 4 s with cross-fades: each clip twice or more, its 3 s or so between the fades in full.
    for (const [frequencyHz] of tones) expect(seen.get(frequencyHz)).toBeGreaterThanOrEqual(18);
    // 0.1² / 2 in the band at 300 Hz; nothing of the others.
    const highest = Math.max(...Array.from({ length: 26 }, (_, timeS) => rendering.bandPower.near(timeS)));
    expect(10 * Math.log10(highest / 0.005)).toBeCloseTo(-0.5, 0);
  });

  it('plays another order for another seed, and the same for the same', async () => {
    const files = [
      await toneClip('a.wav', 300, 0.1, 8000),
      await toneClip('b.wav', 500, 0.1, 8000),
      await toneClip('c.wav', 700, 0.1, 8000),
      await toneClip('d.wav', 900, 0.1, 8000),
    ];
    const sound = async (seed: number) =>
      (
        await simulateSound({
          seed,
          lengthS: 30,
          dancesPerHour: 0,
          calls: { scale: 0 },
          background: { kind: 'files', files },
        })
      ).channels[0]!;
    const one = await sound(1);
    expect(differences(one, await sound(1))).toBe(0);
    expect(differences(one, await sound(2))).toBeGreaterThan(one.length / 2);
  });

  it('names a clip that is too short and a folder without clips', async () => {
    const path = join(folder, 'short.wav');
    await writeWave(path, { sampleRateHz: 8000, encoding: 'pcm16', channels: [new Float32Array(4000)] });
    await expect(simulateSound({ background: { kind: 'files', files: [path] } })).rejects.toThrow(
      /short\.wav: found a recording of 0\.50 s; wanted one of at least 1\.1 s/,
    );
    await expect(backgroundFiles(join(folder, 'nowhere'))).rejects.toThrow(/no such folder/);
    await expect(backgroundFiles(join(folder, 'one', 'hive-truth'))).rejects.toThrow(/no \.wav file/);
  });
});

describe('combtone simulate', () => {
  const run = async (...words: string[]) => {
    const printed: string[] = [];
    const write = vi.spyOn(process.stdout, 'write').mockImplementation((text) => {
      printed.push(String(text));
      return true;
    });
    try {
      const program = new Command();
      registerSimulate(program);
      await program.parseAsync(['simulate', ...words], { from: 'user' });
    } finally {
      write.mockRestore();
    }
    return printed.join('');
  };

  it('makes what it was asked for and says that it is simulated', async () => {
    const out = join(folder, 'cli');
    const text = await run(
      '--out',
      out,
      '--minutes',
      '0.5',
      '--distances',
      '150,600',
      '--disturbance',
      'fan',
    );
    expect(text).toContain('Simulated data');
    expect(text).toMatch(/disturbances fan/);
    const dances = await readTable(join(out, 'simulated-truth', 'dances.csv'), danceSchema);
    expect(dances.length).toBeGreaterThan(0);
    for (const { row } of dances) expect([150, 600]).toContain(row.distance_m);
    const json = JSON.parse(await run('--out', out, '--minutes', '0.5', '--json', '--channels', '2'));
    expect(json).toMatchObject({ simulated: true, length_s: 30, counts: { dances: expect.any(Number) } });
  });

  it('refuses a wrong number by the name of its option', async () => {
    await expect(run('--out', folder, '--snr', 'loud')).rejects.toThrow(
      '--snr: found "loud"; wanted a number from -60 to 100',
    );
    await expect(run('--out', folder, '--distances', '100,,3')).rejects.toThrow(
      /--distances: found "100,,3"/,
    );
    await expect(run('--out', folder, '--name', '../x')).rejects.toThrow(/--name/);
  });
});
