import type { BadInput } from '../input-error.ts';
import { outcomeOf, type RecordingTask } from '../study/detect-all.ts';
import { detectRecording, type RecordingDetection } from '../study/detect-recording.ts';

export interface WholeRecordingTask extends RecordingTask {
  /** Shared with the thread that asks: how far it is and how long the recording, s, where `at` says. */
  readonly progress: Float64Array;
  readonly at: number;
}

/** Errors lose their class between threads: what is wrong with a recording goes as data. */
export type WholeRecordingResult =
  | { readonly ok: true; readonly found: RecordingDetection }
  | { readonly ok: false; readonly badInput: BadInput };

/** One recording, read and searched in a thread of its own. */
export default async function detectWhole(task: WholeRecordingTask): Promise<WholeRecordingResult> {
  const { path, progress, at, ...options } = task;
  const onProgress = (searchedS: number, durationS: number) => {
    progress[at + 1] = durationS;
    progress[at] = searchedS;
  };
  const outcome = await outcomeOf(detectRecording(path, { ...options, onProgress }));
  return outcome.ok ? outcome : { ok: false, badInput: outcome.error.badInput };
}
