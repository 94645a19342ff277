import { Piscina } from 'piscina';
import type { SegmentSearch } from '../dance/detect.ts';
import type { SegmentFindings } from '../dance/detect-segment.ts';
import { InputError } from '../input-error.ts';
import type { RecordingOutcome } from '../study/detect-all.ts';
import type { WholeRecordingResult, WholeRecordingTask } from './recording-worker.ts';
import type { SearchTask } from './search-worker.ts';

/** Threads that search for one that asks. */
export interface DetectPool {
  /** Segments that the thread that asks has read. */
  readonly segmentSearch: SegmentSearch;
  /** A whole recording, read by the thread that searches it. */
  readonly detectWhole: (task: WholeRecordingTask) => Promise<RecordingOutcome>;
  /** Ends the threads; what they were at is lost, and whoever waits for it is told so. */
  readonly close: () => Promise<void>;
}

// Threads run what is built: from the sources, as in tests, that is in dist.
const built = import.meta.url.endsWith('.ts') ? '../../dist/jobs/' : './';
const workerFile = (name: string) => new URL(`${built}${name}`, import.meta.url).href;

const IDLE_MS = 60_000;
/** Beyond one for each thread: one that is ready when a thread becomes free, one that is being read. */
const SEGMENTS_AHEAD = 2;

/** @param threads that search at a time; each is started when there is work for it */
export function detectPool(threads: number): DetectPool {
  const pool = new Piscina({ minThreads: 0, maxThreads: threads, idleTimeout: IDLE_MS, recordTiming: false });
  const search: SegmentSearch['search'] = (segment, settings) => {
    const task: SearchTask = { segment, settings };
    const transferList = [segment.samples.buffer as ArrayBuffer];
    return pool.run(task, {
      filename: workerFile('search-worker.js'),
      transferList,
    }) as Promise<SegmentFindings>;
  };
  const detectWhole = async (task: WholeRecordingTask): Promise<RecordingOutcome> => {
    const result: WholeRecordingResult = await pool.run(task, {
      filename: workerFile('recording-worker.js'),
    });
    return result.ok ? result : { ok: false, error: new InputError(result.badInput) };
  };
  return {
    segmentSearch: { search, atOnce: threads + SEGMENTS_AHEAD },
    detectWhole,
    close: () => pool.destroy(),
  };
}
