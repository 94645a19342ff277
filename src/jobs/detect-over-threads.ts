import { stat } from 'node:fs/promises';
import { openRecording } from '../recording/index.ts';
import {
  type DetectAll,
  type DetectAllOptions,
  detectInTurn,
  outcomeOf,
  type RecordingOutcome,
  type RecordingTask,
} from '../study/detect-all.ts';
import { detectRecording } from '../study/detect-recording.ts';
import { compileLater } from './compile-later.ts';
import type { DetectPool } from './detect-pool.ts';
import { letHeapsGrow } from './heap-growth.ts';

/** Less sound than this, of all recordings together, is searched before threads have started. */
const WORTH_THREADS_S = 300;
/**
 * One thread can read and decimate for about this many that search, as reading takes a fifth of the work: where
 * fewer recordings than this are left for the threads, each is cut up over all of them.
 */
const SEARCHED_PER_READER = 5;
/**
 * For each thread: one that it searches, and one that is ready when it is done. What has been searched behind a
 * recording that takes long waits to be kept and is lost when the program is killed, so that no more is begun.
 */
const BEGUN_PER_THREAD = 2;
const PROGRESS_MS = 250;

/**
 * Detection over the threads of one machine. As long as there are recordings enough, each thread reads and
 * searches one of its own. The last few, or a single one, are read here and searched by all threads segment by
 * segment, so that no thread is idle while another has hours before it.
 *
 * @param threads that search at a time, from 1; with 1 the thread that asks does all the work
 * @param worthThreadsS what less sound than is searched by the thread that asks, s
 * @param largeBytes size of all files from which on heaps are let grow, whatever they hold
 */
export function detectOverThreads(
  threads: number,
  worthThreadsS = WORTH_THREADS_S,
  largeBytes = LARGE_BYTES,
): DetectAll {
  return async function* (tasks, options) {
    const isLong = threads > 1 && (await isAsLong(tasks, worthThreadsS));
    if (isLong || (await areLarge(tasks, largeBytes))) {
      letHeapsGrow();
      compileLater();
    }
    if (!isLong) {
      yield* detectInTurn(tasks, options);
      return;
    }
    // Short work does not wait for it to be loaded.
    const { detectPool } = await import('./detect-pool.ts');
    options.signal?.throwIfAborted();
    const wholeCount = wholeRecordings(tasks.length, threads);
    // The thread that asks has time to spare for searching only where it is the one that reads.
    const pool = detectPool(
      wholeCount === 0 ? { threads: threads - 1, searchesToo: true } : { threads, searchesToo: false },
    );
    const stop = () => void pool.close();
    options.signal?.addEventListener('abort', stop, { once: true });
    try {
      yield* overPool(pool, tasks, wholeCount, BEGUN_PER_THREAD * threads, options);
    } catch (error) {
      options.signal?.throwIfAborted();
      throw error;
    } finally {
      options.signal?.removeEventListener('abort', stop);
      await pool.close();
    }
  };
}

/** Five minutes of 16-bit sound of one channel at 44.1 kHz. */
const LARGE_BYTES = 26e6;

/** Whether there is much to search, by the sizes of files alone: none is opened before its turn. */
async function areLarge(tasks: readonly RecordingTask[], largeBytes: number): Promise<boolean> {
  let bytes = 0;
  for (const { path } of tasks) {
    bytes += (await stat(path).catch(() => null))?.size ?? 0;
    if (bytes >= largeBytes) return true;
  }
  return false;
}

/** How many of the first recordings go to a thread each; the rest are cut up. */
export function wholeRecordings(recordings: number, threads: number): number {
  const rest = recordings % threads;
  return rest < Math.min(threads, SEARCHED_PER_READER) ? recordings - rest : recordings;
}

async function* overPool(
  pool: DetectPool,
  tasks: readonly RecordingTask[],
  wholeCount: number,
  ahead: number,
  options: DetectAllOptions,
): AsyncGenerator<RecordingOutcome> {
  const progress = new Float64Array(new SharedArrayBuffer(2 * 8 * Math.max(1, wholeCount)));
  const cutUp = cutUpInTurn(pool, options);
  const begin = (k: number) =>
    k < wholeCount ? pool.detectWhole({ ...tasks[k]!, progress, at: 2 * k }) : cutUp(tasks[k]!, k);
  const tell = () => {
    for (let k = 0; k < wholeCount; k++) {
      const durationS = progress[2 * k + 1]!;
      if (durationS > 0) options.onProgress?.(k, progress[2 * k]!, durationS);
    }
  };
  const telling = setInterval(tell, PROGRESS_MS);
  const begun: Promise<RecordingOutcome>[] = [];
  try {
    for (let k = 0; k < tasks.length; k++) {
      options.signal?.throwIfAborted();
      while (begun.length < ahead && k + begun.length < tasks.length) {
        const outcome = begin(k + begun.length);
        // A failure waits for its turn, instead of ending the process.
        outcome.catch(() => {});
        begun.push(outcome);
      }
      yield await begun.shift()!;
    }
  } finally {
    clearInterval(telling);
  }
}

/** Recordings read here one after another in the order they are given, their segments searched by all threads. */
function cutUpInTurn(
  pool: DetectPool,
  { onProgress, signal }: DetectAllOptions,
): (task: RecordingTask, index: number) => Promise<RecordingOutcome> {
  let before: Promise<unknown> = Promise.resolve();
  return ({ path, ...task }, index) => {
    const detecting = () =>
      detectRecording(path, {
        ...task,
        segmentSearch: pool.segmentSearch,
        onProgress: (searchedS, durationS) => onProgress?.(index, searchedS, durationS),
        ...(signal && { signal }),
      });
    const outcome = before.then(() => outcomeOf(detecting()));
    before = outcome;
    return outcome;
  };
}

/** Whether the recordings' channels to be searched are as long together as this, s. */
async function isAsLong(tasks: readonly RecordingTask[], lengthS: number): Promise<boolean> {
  let soundS = 0;
  for (const { path, channels } of tasks) {
    const recording = await openRecording(path).catch(() => null);
    // What cannot be read is told when its turn comes.
    if (recording === null) continue;
    const { durationS, channelCount } = recording.info;
    await recording.close();
    soundS += durationS * (channels.length > 0 ? channels.length : channelCount);
    if (soundS >= lengthS) return true;
  }
  return false;
}
