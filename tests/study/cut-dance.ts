import { join } from 'node:path';
import { writeWave } from '../../src/recording/index.ts';
import { simulateSound } from '../../src/simulate/index.ts';

const RATE_HZ = 8000;

/** Simulated sound of 100 s, with a whole second between two runs of a dance at which a recorder may begin another file. */
export interface CutDance {
  readonly samples: Float32Array;
  readonly cutS: number;
}

export async function cutDance(): Promise<CutDance> {
  const { channels, truth } = await simulateSound({
    seed: 8310,
    lengthS: 100,
    sampleRateHz: RATE_HZ,
    snrDb: 12,
    dancesPerHour: 120,
    maxConcurrent: 1,
  });
  const runsOf = (danceId: string) => truth.trains.filter(({ dance_id }) => dance_id === danceId);
  const longest = truth.dances.toSorted((a, b) => b.run_count - a.run_count)[0]!;
  const runs = runsOf(longest.dance_id);
  const seconds = Array.from({ length: 100 }, (_, k) => k).filter((second) => {
    const before = runs.filter(({ end_s }) => end_s < second - 0.3).length;
    const after = runs.filter(({ start_s }) => start_s > second + 0.3).length;
    return before >= 3 && after >= 3 && before + after === runs.length;
  });
  return { samples: channels[0]!, cutS: seconds[seconds.length >> 1]! };
}

/**
 * Writes the sound into one file, or into two with so long a gap between them, each named by its start.
 *
 * @returns their paths
 */
export async function writeCutDance(
  folder: string,
  { samples, cutS }: CutDance,
  gapS: number | null,
): Promise<string[]> {
  const at = (second: number) => {
    const time = new Date(Date.UTC(2031, 5, 14, 9, 30, second)).toISOString();
    return `hive-${time.slice(0, 10).replaceAll('-', '')}_${time.slice(11, 19).replaceAll(':', '')}.wav`;
  };
  const files =
    gapS === null
      ? [[at(0), samples] as const]
      : [
          [at(0), samples.subarray(0, cutS * RATE_HZ)] as const,
          [at(cutS + gapS), samples.subarray(cutS * RATE_HZ)] as const,
        ];
  for (const [file, channel] of files)
    await writeWave(join(folder, file), { sampleRateHz: RATE_HZ, encoding: 'pcm16', channels: [channel] });
  return files.map(([file]) => join(folder, file));
}
