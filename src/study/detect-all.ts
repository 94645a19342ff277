import { InputError } from '../input-error.ts';
import { type DetectRecordingOptions, detectRecording, type RecordingDetection } from './detect-recording.ts';

/** A recording to be searched, and all that its findings depend on beside its bytes. */
export interface RecordingTask extends Pick<DetectRecordingOptions, 'settings' | 'channels' | 'startTime'> {
  readonly path: string;
  /** Of its bytes, where it is known. */
  readonly sha256?: string;
}

/**
 * What was found in a recording; or what is wrong with it, an `InputError`; or why it could not be searched though
 * nothing is known to be wrong with it.
 */
export type RecordingOutcome =
  | { readonly ok: true; readonly found: RecordingDetection }
  | { readonly ok: false; readonly error: Error };

export interface DetectAllOptions {
  /** Told which task, from 0, and how far its recording has been searched. */
  readonly onProgress?: (task: number, searchedS: number, durationS: number) => void;
  readonly signal?: AbortSignal;
}

/**
 * Searches recordings and gives the outcome of each as soon as it and those before it are there, in the order of
 * the tasks. How it computes (here, over threads, over machines) changes nothing of the outcomes.
 *
 * @throws the signal's reason when given up; whatever else went wrong that is no fault of a recording
 */
export type DetectAll = (
  tasks: readonly RecordingTask[],
  options: DetectAllOptions,
) => AsyncIterable<RecordingOutcome>;

/** One after another, in the thread that asks. */
export const detectInTurn: DetectAll = async function* (tasks, { onProgress, signal }) {
  for (const [index, { path, sha256: _, ...options }] of tasks.entries()) {
    signal?.throwIfAborted();
    yield await outcomeOf(
      detectRecording(path, {
        ...options,
        onProgress: (searchedS, durationS) => onProgress?.(index, searchedS, durationS),
        ...(signal === undefined ? {} : { signal }),
      }),
    );
  }
};

/** Takes what is wrong with a recording for an outcome; what went wrong otherwise stays an error. */
export async function outcomeOf(
  detecting: Promise<RecordingDetection>,
): Promise<RecordingOutcome & ({ readonly ok: true } | { readonly error: InputError })> {
  try {
    return { ok: true, found: await detecting };
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return { ok: false, error };
  }
}
