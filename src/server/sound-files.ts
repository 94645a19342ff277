import { LRUCache } from 'lru-cache';
import { openRecording, type Recording } from '../recording/index.ts';
import { recordingById } from '../study/store/recordings.ts';
import type { OpenStudy } from '../study/study-folder.ts';
import { requireRecording } from '../study/study-recordings.ts';

/** Open files of the recordings that are looked at. */
export interface SoundFiles {
  /** @throws InputError when the file is not to be found or read */
  readonly open: (recordingId: number) => Promise<Recording>;
  readonly close: () => Promise<void>;
}

const MOST_OPEN = 12;

/** Keeps the recordings last asked for open, a dozen at most. */
export function soundFiles(study: OpenStudy): SoundFiles {
  const closings: Promise<void>[] = [];
  const held = new LRUCache<number, Promise<Recording>>({
    max: MOST_OPEN,
    // A reader may still be at work on it.
    dispose: (opening) => {
      const closing = opening.then((recording) => recording.close()).catch(() => undefined);
      closings.push(closing);
    },
  });
  const open = (recordingId: number): Promise<Recording> => {
    const already = held.get(recordingId);
    if (already !== undefined) return already;
    const opening = openNow(study, recordingId);
    held.set(recordingId, opening);
    // A file that comes back must be found the next time.
    opening.catch(() => held.delete(recordingId));
    return opening;
  };
  return {
    open,
    close: async () => {
      held.clear();
      await Promise.all(closings);
    },
  };
}

async function openNow(study: OpenStudy, recordingId: number): Promise<Recording> {
  const recording = recordingById(study.store, recordingId)!;
  const path = await requireRecording(study, recording);
  return openRecording(path, recording.startTime === null ? {} : { startTime: recording.startTime });
}

/**
 * Samples of one channel from frame `from` up to `to`, zeros where they lie outside the recording.
 *
 * @throws the signal's reason when it is given up
 */
export async function readSamples(
  recording: Recording,
  channel: number,
  from: number,
  to: number,
  signal: AbortSignal,
): Promise<Float32Array> {
  const samples = new Float32Array(to - from);
  const startFrame = Math.max(0, from);
  const endFrame = Math.min(recording.info.frameCount, to);
  if (startFrame >= endFrame) return samples;
  let at = startFrame - from;
  for await (const block of recording.blocks(channel, { startFrame, endFrame })) {
    signal.throwIfAborted();
    samples.set(block, at);
    at += block.length;
  }
  return samples;
}
