import { basename, extname } from 'node:path';
import { type Detection, detectSounds, type SegmentSearch } from '../dance/detect.ts';
import type { DetectorSettings } from '../dance/settings.ts';
import { InputError } from '../input-error.ts';
import {
  openRecording,
  type RecordingInfo,
  type SoundCheck,
  type SoundChecker,
  soundChecker,
} from '../recording/index.ts';
import { medianOf } from '../signal/quantile.ts';
import { type DetectionTables, detectionTables } from './detection-tables.ts';

/** What was found in one recording, and what is to be said about it. */
export interface RecordingDetection extends DetectionTables {
  readonly info: RecordingInfo;
  /** Middle of each pulse of each train, s, by train_id. */
  readonly pulseTimesS: ReadonlyMap<string, readonly number[]>;
  readonly channels: readonly ChannelHealth[];
  readonly warnings: readonly string[];
}

/** How well one channel was recorded, so that a bad microphone is noticed at once. */
export interface ChannelHealth {
  readonly channel: number;
  /** Length less drop-outs. */
  readonly usableMinutes: number;
  readonly clippedShare: number;
  readonly dropOutCount: number;
  readonly dropOutS: number;
  /** Level of the noise floor in 200 to 400 Hz, dB of full scale. */
  readonly noiseDb: number;
  /** Over the runs found on this channel; null where there are none. */
  readonly medianSnrDb: number | null;
  readonly carrierHz: number | null;
}

export interface DetectRecordingOptions {
  readonly settings: DetectorSettings;
  /** Channels to search, from 1; empty for all. */
  readonly channels: readonly number[];
  readonly startTime?: string;
  readonly onProgress?: (searchedS: number, durationS: number) => void;
  /** What searches the segments; default: the thread that asks. */
  readonly segmentSearch?: SegmentSearch;
  readonly signal?: AbortSignal;
}

/**
 * Opens a recording, searches its channels and gives the findings as table rows.
 *
 * @throws InputError for a recording that cannot be read, has no such channel, or a rate under 1500 Hz; the
 * signal's reason when given up
 */
export async function detectRecording(
  path: string,
  options: DetectRecordingOptions,
): Promise<RecordingDetection> {
  const recording = await openRecording(
    path,
    options.startTime === undefined ? {} : { startTime: options.startTime },
  );
  try {
    const { info } = recording;
    const channels =
      options.channels.length > 0
        ? options.channels
        : Array.from({ length: info.channelCount }, (_, index) => index + 1);
    requireSampleRate(path, info.sampleRateHz);
    const checkers = channels.map(() => soundChecker(info.sampleRateHz, !info.encoding.startsWith('float')));
    const detection = await detectSounds(
      channels.map((channel, index) => ({
        channel,
        blocks: checked(recording.blocks(channel), checkers[index]!),
      })),
      info.sampleRateHz,
      options.settings,
      {
        onProgress: (index, searchedS) =>
          options.onProgress?.((index * info.durationS + searchedS) / channels.length, info.durationS),
        ...(options.segmentSearch === undefined ? {} : { segmentSearch: options.segmentSearch }),
        ...(options.signal === undefined ? {} : { signal: options.signal }),
      },
    );
    const checks = checkers.map((checker) => checker.result());
    if (checks.every((check) => !check.heard)) {
      throw new InputError({
        file: path,
        found: 'nothing but zeros (digital silence)',
        wanted: 'sound: was the microphone connected?',
      });
    }
    const tables = detectionTables(detection, {
      recording: basename(path),
      stem: basename(path, extname(path)),
      startTime: info.startTime,
    });
    return {
      ...tables,
      info,
      pulseTimesS: new Map(tables.trains.map((row, k) => [row.train_id, detection.trains[k]!.pulseTimesS])),
      channels: channels.map((channel, k) =>
        channelHealth(channel, checks[k]!, detection, k, info.durationS),
      ),
      warnings: [...info.warnings, ...recording.notes(), ...silentChannels(channels, checks)],
    };
  } finally {
    await recording.close();
  }
}

const LOWEST_RATE_HZ = 1500;

/**
 * Holds that dance sound can be heard at a sample rate.
 *
 * @param file what the error names the sound by
 * @throws InputError for a rate under 1500 Hz, or none
 */
export function requireSampleRate(file: string, sampleRateHz: number): void {
  if (Number.isFinite(sampleRateHz) && sampleRateHz >= LOWEST_RATE_HZ) return;
  throw new InputError({
    file,
    found: `a sample rate of ${sampleRateHz} Hz`,
    wanted: `at least ${LOWEST_RATE_HZ} Hz: dance sound and begging calls reach 410 Hz`,
  });
}

/** Passes blocks on and lets a checker see them. */
async function* checked(
  blocks: AsyncIterable<Float32Array>,
  checker: SoundChecker,
): AsyncGenerator<Float32Array> {
  for await (const block of blocks) {
    checker.take(block);
    yield block;
  }
}

function channelHealth(
  channel: number,
  check: SoundCheck,
  detection: Detection,
  index: number,
  durationS: number,
): ChannelHealth {
  const trains = detection.trains.filter((train) => train.channel === channel);
  const median = (values: number[]) => (values.length === 0 ? null : medianOf(values));
  return {
    channel,
    usableMinutes: check.heard ? Math.max(0, durationS - check.dropOutS) / 60 : 0,
    clippedShare: check.clippedShare,
    dropOutCount: check.dropOutCount,
    dropOutS: check.dropOutS,
    noiseDb: detection.noiseDb[index]!,
    medianSnrDb: median(trains.map((train) => train.snrDb)),
    carrierHz: median(trains.map((train) => train.carrierHz)),
  };
}

function silentChannels(channels: readonly number[], checks: readonly SoundCheck[]): string[] {
  return channels.flatMap((channel, k) =>
    checks[k]!.heard ? [] : [`channel ${channel} holds nothing but zeros (digital silence)`],
  );
}
