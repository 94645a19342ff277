import { parseStartTime } from '../recording/index.ts';
import { backgroundFiles } from '../simulate/background-folder.ts';
import { disturbanceNamed } from '../simulate/disturbance-names.ts';
import { loadedFactor } from '../simulate/loaded-factor.ts';
import type { PartialSimulationOptions } from '../simulate/options.ts';
import { type SimulatedFiles, simulateHive, truthFiles } from '../simulate/simulate-hive.ts';
import { simulationCounts, simulationText } from '../simulate/simulation-text.ts';
import { counted } from '../study/counted.ts';
import { stoppable } from './interruption.ts';
import { withProgress } from './progress.ts';

export interface SimulateOptions {
  readonly out: string;
  readonly name: string;
  readonly seed: number;
  readonly minutes: number;
  readonly sampleRate: number;
  readonly encoding: 'pcm16' | 'float32';
  readonly channels: number;
  readonly startTime?: string;
  readonly snr: number;
  readonly callSnr?: number;
  readonly background?: string;
  readonly dancesPerHour: number;
  readonly dancers: number;
  readonly bees: number;
  readonly distances?: number[];
  readonly loaded?: number;
  readonly calls: number;
  readonly disturbance?: string[];
  readonly json?: boolean;
}

/**
 * Makes a recording of a simulated hive with its truth, and prints what was made; the exit code becomes that of a signal
 * that ends it before its time.
 */
export async function runSimulate(options: SimulateOptions): Promise<void> {
  const simulation = await simulationOf(options);
  await stoppable('nothing is written', async (signal) => {
    const files = await withProgress((progress) => {
      const onProgress = (share: number) => progress('Simulating', share);
      return simulateHive(options.out, options.name, simulation, { onProgress, signal });
    });
    process.stdout.write(
      options.json ? formatJson(files) : `${simulationText(files)}\n\n${writtenText(files)}\n`,
    );
  });
}

/** `Written: simulated/simulated.wav (600 s, 10 dances), and in simulated/simulated-truth trains.csv, ...`. */
function writtenText(files: SimulatedFiles): string {
  const { recordingPath, truthFolder, plan, truth } = files;
  const holds = `${plan.options.lengthS} s, ${counted(truth.dances.length, 'dance')}`;
  return `Written: ${recordingPath} (${holds}), and in ${truthFolder} ${truthFiles.join(', ')}`;
}

async function simulationOf(options: SimulateOptions): Promise<PartialSimulationOptions> {
  const { distances, loaded } = options;
  return {
    seed: options.seed,
    lengthS: 60 * options.minutes,
    sampleRateHz: options.sampleRate,
    encoding: options.encoding,
    startTime: options.startTime === undefined ? null : parseStartTime(options.startTime),
    // Every microphone after the first hears the hive weaker, later and with noise of its own.
    microphones: Array.from({ length: options.channels }, (_, index) =>
      index === 0 ? {} : { gainDb: -3 * index, delayS: 0.0006 * index, noiseDb: -10 },
    ),
    snrDb: options.snr,
    callSnrDb: options.callSnr ?? null,
    ...(options.background === undefined
      ? {}
      : { background: { kind: 'files', files: await backgroundFiles(options.background) } }),
    dancesPerHour: options.dancesPerHour,
    maxConcurrent: options.dancers,
    bees: options.bees,
    ...(distances === undefined
      ? {}
      : { feeders: distances.map((distanceM) => ({ feederId: `feeder-${distanceM}m`, distanceM })) }),
    ...(loaded === undefined
      ? {}
      : { treatments: [{ treatment: 'loaded', share: loaded, durationFactor: loadedFactor }] }),
    calls: { scale: options.calls },
    disturbances: (options.disturbance ?? []).map(disturbanceNamed),
  };
}

function formatJson(files: SimulatedFiles): string {
  const { recordingPath, truthFolder, plan, clippedSampleCount } = files;
  const { seed, lengthS, sampleRateHz, encoding, snrDb } = plan.options;
  const summary = {
    simulated: true,
    recording: recordingPath,
    truth: truthFolder,
    seed,
    length_s: lengthS,
    sample_rate_hz: sampleRateHz,
    encoding,
    snr_db: snrDb,
    curve: plan.curve,
    counts: simulationCounts(files),
    clipped_samples: clippedSampleCount,
  };
  return `${JSON.stringify(summary, null, 2)}\n`;
}
