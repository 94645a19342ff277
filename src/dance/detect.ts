import { detectInSegment, type FoundCall, type FoundTrain } from './detect-segment.ts';
import { gatherDances } from './gather-dances.ts';
import { joinChannels, type OnChannels } from './join-channels.ts';
import { segmentsOf } from './segments.ts';
import type { DetectorSettings } from './settings.ts';

/** All that was found in one or more channels of a recording. */
export interface Detection {
  /** In order of start, each with the number of its dance, from 0. */
  readonly trains: readonly (OnChannels<FoundTrain> & { readonly dance: number })[];
  readonly calls: readonly OnChannels<FoundCall>[];
  /** Mean level of the noise floor in the band of dance sound, dB of full scale, in each channel searched. */
  readonly noiseDb: readonly number[];
}

/** One channel's samples in order. */
export interface ChannelSamples {
  /** From 1. */
  readonly channel: number;
  readonly blocks: AsyncIterable<Float32Array>;
}

/**
 * Finds the pulse trains of waggle runs, and calls, in the channels of a recording, joins what several
 * microphones heard of one sound, and gathers the trains into dances. Memory does not grow with the recording's
 * length but for the findings.
 *
 * @param channels searched one after the other, all at `sampleRateHz`
 * @param onProgress called with the channel, counted from 0, and the time up to which it has been searched, s
 */
export async function detectSounds(
  channels: readonly ChannelSamples[],
  sampleRateHz: number,
  settings: DetectorSettings,
  onProgress: (channelIndex: number, searchedS: number) => void = () => {},
): Promise<Detection> {
  const trains: { channel: number; sounds: FoundTrain[] }[] = [];
  const calls: { channel: number; sounds: FoundCall[] }[] = [];
  const noiseDb: number[] = [];
  for (const [index, { channel, blocks }] of channels.entries()) {
    const found = await detectInChannel(blocks, sampleRateHz, settings, (s) => onProgress(index, s));
    trains.push({ channel, sounds: found.trains });
    calls.push({ channel, sounds: found.calls });
    noiseDb.push(found.noiseDb);
  }
  const joined = joinChannels(trains);
  const danceOf = gatherDances(joined);
  return {
    trains: joined.map((train, k) => ({ ...train, dance: danceOf[k]! })),
    calls: joinChannels(calls),
    noiseDb,
  };
}

async function detectInChannel(
  blocks: AsyncIterable<Float32Array>,
  sampleRateHz: number,
  settings: DetectorSettings,
  onProgress: (searchedS: number) => void,
) {
  const trains: FoundTrain[] = [];
  const calls: FoundCall[] = [];
  let noise = 0;
  let lengthS = 0;
  for await (const segment of segmentsOf(blocks, sampleRateHz)) {
    const findings = detectInSegment(segment, settings);
    addUnrepeated(trains, findings.trains);
    addUnrepeated(calls, findings.calls);
    const segmentS = segment.samples.length / segment.sampleRateHz;
    noise += findings.noisePower * segmentS;
    lengthS += segmentS;
    onProgress(segment.startS + segmentS);
  }
  return { trains, calls, noiseDb: 10 * Math.log10(noise / lengthS + 1e-20) };
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
