import { detectInSegment, type FoundCall, type FoundTrain, type SegmentFindings } from './detect-segment.ts';
import { gatherDances } from './gather-dances.ts';
import { joinChannels, type OnChannels } from './join-channels.ts';
import { type Segment, segmentsOf } from './segments.ts';
import type { DetectorSettings } from './settings.ts';

/** All that was found in one or more channels of a recording. */
export interface Detection {
  /** In order of start, each with the number of its dance, from 0. */
  readonly trains: readonly (OnChannels<FoundTrain> & { readonly dance: number })[];
  readonly calls: readonly OnChannels<FoundCall>[];
  /** Level of the noise floor in 200 to 400 Hz, dB of full scale, mean over segments, in each channel searched. */
  readonly noiseDb: readonly number[];
}

/** One channel's samples in order. */
export interface ChannelSamples {
  /** From 1. */
  readonly channel: number;
  readonly blocks: AsyncIterable<Float32Array>;
}

/** What searches segments: the thread that asks, or others beside it. */
export interface SegmentSearch {
  /** What `detectInSegment` finds. The segment's samples are given away. */
  readonly search: (
    segment: Segment,
    settings: DetectorSettings,
  ) => SegmentFindings | Promise<SegmentFindings>;
  /** Segments under way at a time, from 1, and so what bounds the memory they take. */
  readonly atOnce: number;
}

/** Searches in the thread that asks. */
const searchHere: SegmentSearch = { search: detectInSegment, atOnce: 1 };

/** Who searches, who is told, and what gives up. */
export interface DetectSoundsOptions {
  /** Told the channel, counted from 0, and the time up to which it has been searched, s. */
  readonly onProgress?: (channelIndex: number, searchedS: number) => void;
  /** Default: in the thread that asks. What is found does not depend on it. */
  readonly segmentSearch?: SegmentSearch;
  /** Looked at after each segment. */
  readonly signal?: AbortSignal;
}

/**
 * Finds the pulse trains of waggle runs, and calls, in the channels of a recording, joins what several
 * microphones heard of one sound, and gathers the trains into dances. Memory does not grow with the recording's
 * length but for the findings.
 *
 * @param channels read one after the other, all at `sampleRateHz`
 * @throws the signal's reason when given up
 */
export async function detectSounds(
  channels: readonly ChannelSamples[],
  sampleRateHz: number,
  settings: DetectorSettings,
  options: DetectSoundsOptions = {},
): Promise<Detection> {
  const { onProgress = () => {}, segmentSearch = searchHere, signal } = options;
  const found = channels.map(({ channel }) => emptyFindings(channel));
  const underWay: SearchedSegment[] = [];
  // Segments are searched in any order but taken in theirs: sums of noise and what is a repetition follow it.
  const takeNext = async () => {
    const { index, endS, lengthS, findings } = underWay.shift()!;
    takeFindings(found[index]!, await findings, lengthS);
    signal?.throwIfAborted();
    onProgress(index, endS);
  };
  for await (const { index, segment } of segmentsInTurn(channels, sampleRateHz)) {
    // Asked for before the search, which may give the samples away to another thread.
    const lengthS = segment.samples.length / segment.sampleRateHz;
    const endS = segment.startS + lengthS;
    const findings = segmentSearch.search(segment, settings);
    // A failure waits for its turn, instead of ending the process.
    if (findings instanceof Promise) findings.catch(() => {});
    underWay.push({ index, endS, lengthS, findings });
    while (underWay.length >= segmentSearch.atOnce) await takeNext();
  }
  while (underWay.length > 0) await takeNext();
  const joined = joinChannels(found.map(({ channel, trains }) => ({ channel, sounds: trains })));
  const danceOf = gatherDances(joined);
  return {
    trains: joined.map((train, k) => ({ ...train, dance: danceOf[k]! })),
    calls: joinChannels(found.map(({ channel, calls }) => ({ channel, sounds: calls }))),
    noiseDb: found.map(({ noise, lengthS }) => 10 * Math.log10(noise / lengthS + 1e-20)),
  };
}

interface SearchedSegment {
  /** Of its channel, from 0. */
  readonly index: number;
  readonly endS: number;
  readonly lengthS: number;
  readonly findings: SegmentFindings | Promise<SegmentFindings>;
}

/** All segments of the first channel, then of the next. */
async function* segmentsInTurn(
  channels: readonly ChannelSamples[],
  sampleRateHz: number,
): AsyncGenerator<{ readonly index: number; readonly segment: Segment }> {
  for (const [index, { blocks }] of channels.entries()) {
    for await (const segment of segmentsOf(blocks, sampleRateHz)) yield { index, segment };
  }
}

/** What was found in a channel so far. */
interface ChannelFindings {
  readonly channel: number;
  readonly trains: FoundTrain[];
  readonly calls: FoundCall[];
  /** Noise power times the time it was measured over. */
  noise: number;
  lengthS: number;
}

function emptyFindings(channel: number): ChannelFindings {
  return { channel, trains: [], calls: [], noise: 0, lengthS: 0 };
}

/** Adds what was found in the next segment of a channel. */
function takeFindings(
  soFar: ChannelFindings,
  { trains, calls, noisePower }: SegmentFindings,
  segmentS: number,
): void {
  addUnrepeated(soFar.trains, trains);
  addUnrepeated(soFar.calls, calls);
  soFar.noise += noisePower * segmentS;
  soFar.lengthS += segmentS;
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
