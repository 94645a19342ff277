import { detectInSegment, type FoundCall, type FoundTrain } from './detect-segment.ts';
import { gatherDances } from './gather-dances.ts';
import { segmentsOf } from './segments.ts';
import type { DetectorSettings } from './settings.ts';

/** All that was found in one channel of a recording. */
export interface Detection {
  /** In order of start, each with the number of its dance, from 0. */
  readonly trains: readonly (FoundTrain & { readonly dance: number })[];
  readonly calls: readonly FoundCall[];
}

/**
 * Finds the pulse trains of waggle runs, and calls, in one channel of a recording, and gathers the trains into
 * dances. Memory does not grow with the recording's length but for the findings.
 *
 * @param blocks samples in order, at `sampleRateHz`
 * @param onProgress called with the time up to which the recording has been searched, s
 */
export async function detectSounds(
  blocks: AsyncIterable<Float32Array>,
  sampleRateHz: number,
  settings: DetectorSettings,
  onProgress: (searchedS: number) => void = () => {},
): Promise<Detection> {
  const trains: FoundTrain[] = [];
  const calls: FoundCall[] = [];
  for await (const segment of segmentsOf(blocks, sampleRateHz)) {
    const findings = detectInSegment(segment, settings);
    addUnrepeated(trains, findings.trains);
    addUnrepeated(calls, findings.calls);
    onProgress(segment.startS + segment.samples.length / segment.sampleRateHz);
  }
  trains.sort((a, b) => a.startS - b.startS || a.carrierHz - b.carrierHz);
  const danceOf = gatherDances(trains);
  return { trains: trains.map((train, k) => ({ ...train, dance: danceOf[k]! })), calls };
}

interface Sounding {
  readonly startS: number;
  readonly endS: number;
  readonly carrierHz: number;
}

/**
 * What is centred on the seam of two segments may be timed a little differently in each and so be claimed by
 * both: the first stays.
 */
function addUnrepeated<S extends Sounding>(all: S[], found: readonly S[]): void {
  const before = all.slice(-20);
  for (const sound of found) {
    const repeated = before.some(
      (other) =>
        Math.abs(other.carrierHz - sound.carrierHz) < 25 &&
        Math.min(other.endS, sound.endS) - Math.max(other.startS, sound.startS) >
          0.5 * (sound.endS - sound.startS),
    );
    if (!repeated) all.push(sound);
  }
}
