import { detectSounds } from '../dance/detect.ts';
import type { DetectorSettings } from '../dance/settings.ts';
import { InputError } from '../input-error.ts';
import { requireSampleRate } from './detect-recording.ts';
import { type DetectionTables, detectionTables } from './detection-tables.ts';

/** Sound in memory: one array per channel, all of one length, full scale at ±1. */
export interface Sound {
  readonly sampleRateHz: number;
  readonly channels: readonly Float32Array[];
}

/**
 * Searches samples as `detectRecording` searches a file, and gives the same rows.
 *
 * @param recording name of the sound in the tables and in the ids
 * @throws InputError for no channel, channels of different lengths, a rate under 1500 Hz, a sample that is NaN
 * or infinite; the signal's reason when given up
 */
export async function detectInSamples(
  { sampleRateHz, channels }: Sound,
  settings: DetectorSettings,
  recording: string,
  { startTime = null, signal }: { readonly startTime?: string | null; readonly signal?: AbortSignal } = {},
): Promise<DetectionTables> {
  requireSampleRate(recording, sampleRateHz);
  requireSamples(recording, channels);
  const detection = await detectSounds(
    channels.map((samples, index) => ({ channel: index + 1, blocks: oneBlock(samples) })),
    sampleRateHz,
    settings,
    signal === undefined ? {} : { signal },
  );
  return detectionTables(detection, { recording, stem: recording, startTime });
}

async function* oneBlock(samples: Float32Array): AsyncGenerator<Float32Array> {
  yield samples;
}

function requireSamples(file: string, channels: readonly Float32Array[]): void {
  if (channels.length === 0) {
    throw new InputError({ file, found: 'no channel', wanted: 'one array of samples for each channel' });
  }
  for (const [index, samples] of channels.entries()) {
    const place = `channel ${index + 1}`;
    if (samples.length !== channels[0]!.length) {
      const found = `${samples.length} samples, but ${channels[0]!.length} in channel 1`;
      throw new InputError({ file, place, found, wanted: 'channels of one length' });
    }
    const wrong = samples.findIndex((sample) => !Number.isFinite(sample));
    if (wrong >= 0) {
      const found = `${samples[wrong]} at sample ${wrong}`;
      throw new InputError({ file, place, found, wanted: 'numbers, full scale at ±1' });
    }
  }
}
