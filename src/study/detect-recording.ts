import { basename, extname } from 'node:path';
import { detectSounds } from '../dance/detect.ts';
import type { DetectorSettings } from '../dance/settings.ts';
import { InputError } from '../input-error.ts';
import { openRecording, type RecordingInfo } from '../recording/index.ts';
import { type DetectionTables, detectionTables } from './detection-tables.ts';

/** What was found in one recording, and what is to be said about it. */
export interface RecordingDetection extends DetectionTables {
  readonly info: RecordingInfo;
  /** Middle of each pulse of each train, s, by train_id. */
  readonly pulseTimesS: ReadonlyMap<string, readonly number[]>;
  readonly warnings: readonly string[];
}

export interface DetectRecordingOptions {
  readonly settings: DetectorSettings;
  /** Channels to search, from 1; empty for all. */
  readonly channels: readonly number[];
  readonly startTime?: string;
  readonly onProgress?: (searchedS: number, durationS: number) => void;
}

/**
 * Opens a recording, searches its channels and gives the findings as table rows.
 *
 * @throws InputError for a recording that cannot be read, has no such channel, or a rate under 1000 Hz
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
    if (info.sampleRateHz < LOWEST_RATE_HZ) {
      throw new InputError({
        file: path,
        found: `a sample rate of ${info.sampleRateHz} Hz`,
        wanted: `at least ${LOWEST_RATE_HZ} Hz: dance sound and begging calls reach 410 Hz`,
      });
    }
    const found: DetectionTables = { trains: [], calls: [], dances: [] };
    const pulseTimesS = new Map<string, readonly number[]>();
    const silent: number[] = [];
    for (const [index, channel] of channels.entries()) {
      const sound = { heard: false };
      const detection = await detectSounds(
        listening(recording.blocks(channel), sound),
        info.sampleRateHz,
        options.settings,
        (searchedS) =>
          options.onProgress?.((index * info.durationS + searchedS) / channels.length, info.durationS),
      );
      if (!sound.heard) silent.push(channel);
      const tables = detectionTables(detection, {
        recording: basename(path),
        stem: basename(path, extname(path)),
        channel,
        startTime: info.startTime,
      });
      for (const [k, train] of tables.trains.entries()) {
        pulseTimesS.set(train.train_id, detection.trains[k]!.pulseTimesS);
      }
      found.trains.push(...tables.trains);
      found.calls.push(...tables.calls);
      found.dances.push(...tables.dances);
    }
    if (silent.length === channels.length) {
      throw new InputError({
        file: path,
        found: 'nothing but zeros (digital silence)',
        wanted: 'sound: was the microphone connected?',
      });
    }
    const silence = silent.map((channel) => `channel ${channel} holds nothing but zeros (digital silence)`);
    return { ...found, info, pulseTimesS, warnings: [...info.warnings, ...recording.notes(), ...silence] };
  } finally {
    await recording.close();
  }
}

const LOWEST_RATE_HZ = 1500;

/** Passes blocks on and notes whether any sample differs from zero. */
async function* listening(
  blocks: AsyncIterable<Float32Array>,
  sound: { heard: boolean },
): AsyncGenerator<Float32Array> {
  for await (const block of blocks) {
    if (!sound.heard) sound.heard = block.some((sample) => sample !== 0);
    yield block;
  }
}
