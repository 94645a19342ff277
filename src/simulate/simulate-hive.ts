import { existsSync, readdirSync, rmdirSync } from 'node:fs';
import { join } from 'node:path';
import { InputError } from '../input-error.ts';
import { seededRandom } from '../random.ts';
import { createWaveWriter } from '../recording/index.ts';
import { writeTable, writeWhole } from '../study/csv.ts';
import { makeFolder } from '../study/make-folder.ts';
import { callSchema, danceSchema, trainSchema } from '../study/tables.ts';
import { completeOptions, type PartialSimulationOptions } from './options.ts';
import { type HivePlan, planHive } from './plan.ts';
import { BLOCK_SAMPLES, prepareRendering, type Rendering, renderBlock } from './render.ts';
import { pulseSchema, type TruthTables, truthTables } from './truth.ts';

/** A simulated recording held in memory. */
export interface SimulatedSound {
  readonly sampleRateHz: number;
  /** One array per microphone. */
  readonly channels: readonly Float32Array[];
  readonly plan: HivePlan;
  readonly truth: TruthTables;
  readonly rendering: Rendering;
}

/** A simulated recording written to files. */
export interface SimulatedFiles {
  readonly recordingPath: string;
  /** Holds the files of `truthFiles`. */
  readonly truthFolder: string;
  readonly plan: HivePlan;
  readonly truth: TruthTables;
  /** Samples beyond full scale that the file could not hold. */
  readonly clippedSampleCount: number;
}

/** What is written into the folder of the truth. */
export const truthFiles = ['trains.csv', 'calls.csv', 'dances.csv', 'pulses.csv', 'simulation.json'] as const;

/** Whoever watches a simulation that takes long. */
export interface SimulationWatch {
  /** Told the share of the work that is done. */
  readonly onProgress?: (share: number) => void;
  /** Ends it before its time; nothing is left of it. */
  readonly signal?: AbortSignal;
}

// Measuring the background takes about half as long as rendering all.
const MEASURING = 1 / 3;

/**
 * Simulates a recording and keeps it in memory: for scripts and for recordings of minutes, not hours.
 *
 * @param recording name used in the truth tables
 * @throws InputError for wrong options or background files that cannot be used
 */
export async function simulateSound(
  given: PartialSimulationOptions = {},
  recording = 'simulated.wav',
): Promise<SimulatedSound> {
  const options = completeOptions(given);
  const plan = planHive(options, seededRandom(options.seed));
  const rendering = await prepareRendering(plan);
  try {
    const channels = options.microphones.map(() => new Float32Array(rendering.sampleCount));
    for await (const { first, blocks } of blocksOf(rendering)) {
      blocks.forEach((block, channel) => {
        channels[channel]!.set(block, first);
      });
    }
    const { sampleRateHz } = options;
    return { sampleRateHz, channels, plan, truth: truthTables(plan, recording), rendering };
  } finally {
    await rendering.background.close();
  }
}

/**
 * Simulates a recording into files: `<name>.wav` in the folder, and beside it `<name>-truth/` with trains.csv,
 * calls.csv, dances.csv, pulses.csv and simulation.json (all options and the colony's curve). Memory stays
 * bounded however long the recording.
 *
 * @throws InputError for wrong options, background files that cannot be used, a place that cannot be written, a
 *   recording in the way; the signal's reason where it ends the work
 */
export async function simulateHive(
  outFolder: string,
  name: string,
  given: PartialSimulationOptions = {},
  { onProgress = () => {}, signal }: SimulationWatch = {},
): Promise<SimulatedFiles> {
  const options = completeOptions(given);
  const recordingPath = join(outFolder, `${name}.wav`);
  const truthFolder = join(outFolder, `${name}-truth`);
  refuseRecording(recordingPath, truthFolder);
  const plan = planHive(options, seededRandom(options.seed));
  const done = (share: number) => {
    signal?.throwIfAborted();
    onProgress(share);
  };
  const rendering = await prepareRendering(plan, (share) => done(MEASURING * share));
  const isNew = !existsSync(outFolder);
  makeFolder(outFolder);
  const writer = await createWaveWriter(recordingPath, {
    sampleRateHz: options.sampleRateHz,
    channelCount: options.microphones.length,
    encoding: options.encoding,
    ...(options.startTime === null ? {} : { startTime: options.startTime }),
  });
  try {
    for await (const { first, blocks } of blocksOf(rendering)) {
      await writer.write(blocks);
      const share = (first + blocks[0]!.length) / rendering.sampleCount;
      done(share < 1 ? MEASURING + (1 - MEASURING) * share : 1);
    }
    const truth = truthTables(plan, `${name}.wav`);
    makeFolder(truthFolder);
    await writeTruth(truthFolder, truth, plan);
    const { clippedSampleCount } = await writer.finish();
    return { recordingPath, truthFolder, plan, truth, clippedSampleCount };
  } finally {
    await writer.abort();
    await rendering.background.close();
    if (isNew && readdirSync(outFolder).length === 0) rmdirSync(outFolder);
  }
}

const aboutFile = 'simulation.json';

/** A simulation may take the place of an earlier one, never of a recording. */
function refuseRecording(path: string, truthFolder: string): void {
  if (!existsSync(path) || existsSync(join(truthFolder, aboutFile))) return;
  const found = `a file that is there already and no simulation (no ${aboutFile} in ${truthFolder})`;
  throw new InputError({ file: path, found, wanted: 'a new name: no recording is written over' });
}

async function* blocksOf(rendering: Rendering): AsyncGenerator<{ first: number; blocks: Float32Array[] }> {
  for (let first = 0; first < rendering.sampleCount; first += BLOCK_SAMPLES) {
    const count = Math.min(BLOCK_SAMPLES, rendering.sampleCount - first);
    yield { first, blocks: await renderBlock(rendering, first, count) };
  }
}

async function writeTruth(folder: string, truth: TruthTables, plan: HivePlan): Promise<void> {
  await writeTable(join(folder, 'trains.csv'), trainSchema, truth.trains);
  await writeTable(join(folder, 'calls.csv'), callSchema, truth.calls);
  await writeTable(join(folder, 'dances.csv'), danceSchema, truth.dances);
  await writeTable(join(folder, 'pulses.csv'), pulseSchema, truth.pulses);
  const about = {
    note: 'Simulated data: no bee made these sounds.',
    curve: plan.curve,
    options: { ...plan.options, bees: plan.bees },
  };
  await writeWhole(join(folder, aboutFile), `${JSON.stringify(about, null, 2)}\n`);
}
